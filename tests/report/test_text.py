"""The first screen: its width, its words, and what each answer must say."""

from __future__ import annotations

import re
from dataclasses import replace

import pandas as pd
import pytest

from planner.plan.records import Plan
from planner.report.screen.first import WIDTH, first_screen, show

FORBIDDEN = re.compile(r"\b(nan|members?|margin|p90|inf)\b", re.IGNORECASE)


@pytest.mark.parametrize("units", ["us", "si"])
def test_every_screen_fits_a_terminal(any_plan: Plan, units: str) -> None:
    """80 columns, ASCII, no trailing blanks, none of the words kept for the code."""
    screen = first_screen(any_plan, units=units)
    for line in screen.split("\n"):
        assert len(line) <= WIDTH, line
        assert line == line.rstrip()
    assert screen.isascii()
    assert not FORBIDDEN.findall(screen)
    assert "\n\n\n" not in screen


@pytest.mark.parametrize("units", ["us", "si"])
def test_every_screen_carries_what_a_face_must(any_plan: Plan, units: str) -> None:
    """Cautions, what was estimated, what was assumed and the credit are on every screen."""
    screen = first_screen(any_plan, units=units)
    assert "A plan is not permission" in screen
    assert "28 of 240 gusts are missing in the file and were estimated." in screen
    assert "Assumed     ridge 15 ft" in screen
    assert "CC BY 4.0" in screen


@pytest.mark.parametrize(
    ("name", "answer", "said"),
    [
        ("hold", "HOLD", "No roof sheet today.  Look again Wed Apr 30 8:00 pm."),
        ("go", "GO", "Roof sheet today, after end wall south."),
        ("no window", "NO-GO", "No hours for the roof sheet in the hours looked at."),
        ("no data", "NO DATA", "The weather file does not say enough for the roof sheet."),
        ("all done", "DONE", "Nothing is left: every step is done or skipped."),
        ("past finish", "NO-GO", "The last day to finish, Fri May 9, is over."),
        ("waiting", "HOLD", "No hours for the roof sheet in the hours looked at."),
    ],
)
def test_answers(case, name: str, answer: str, said: str) -> None:
    """The third paragraph opens with the answer and says what it is about."""
    screen = first_screen(case(name), units="us")
    paragraph = screen.split("\n\n")[1]
    assert paragraph.split("  ")[0] == answer
    assert said in " ".join(paragraph.split()).replace(". L", ".  L")


def test_certain_weather_is_never_given_a_chance(plan: Plan) -> None:
    """One forecast says nothing of how likely it is, and the screen says that it does not."""
    screen = first_screen(plan, units="us")
    assert "of 100" not in screen
    assert "inside every limit on this one forecast" in screen.lower()
    assert "how likely it is to hold is not worked out here" in " ".join(screen.split())


def test_many_weathers_are_counted(case) -> None:
    """With many possible weathers the chance is said and the disclaimer is gone."""
    screen = first_screen(case("many weathers"), units="us")
    assert "Holds in 81 of 100.  Most likely trouble: a gust over 4.0 mph" in screen
    assert "500 possible weathers." in screen
    assert "not worked out here" not in screen


def test_brackets_are_explained_where_there_are_any(case) -> None:
    """Low and high gust stand in brackets, and what they mean below."""
    many = first_screen(case("many weathers"), units="us")
    assert "(2.7 to 5.8)" in many
    assert "In brackets" in many
    assert "In brackets" not in first_screen(case("hold"), units="us")


def test_phases_stand_against_their_limits(plan: Plan) -> None:
    """Clock, minutes, gust expected, limit and its origin; 4.0 mph was typed for 5.1."""
    lines = first_screen(plan, units="us").split("\n")
    row = next(line for line in lines if "pull over     20 min" in line)
    said = " ".join(row.split())
    assert said == "6:55 am pull over 20 min 3.8 4.0 yours; 5 people hold 5.1"
    assert any(line.strip() == "9:25 am  done" for line in lines)


def test_pull_at_the_locks_both_units(case) -> None:
    """41.3 mm is 1 5/8 in, to the quarter inch 1 3/4 or 1 1/2; 14.4 C is 58 F."""
    us = " ".join(first_screen(case("pulled"), units="us").split())
    si = " ".join(first_screen(case("pulled"), units="si").split())
    assert "Film 58 F at the locks: pull 1 3/4 in past snug over the bows, leave 1/2 in" in us
    assert "Film 14 C at the locks: pull 40 mm past snug over the bows, leave 10 mm" in si


def test_no_pull_line_without_a_film_temperature(plan: Plan) -> None:
    """Nothing is said about pull where it was not worked out."""
    assert "at the locks" not in first_screen(plan, units="us")


def test_a_window_over_midnight_names_both_days(case) -> None:
    """The day turns inside the phase table, and down-by names its own day."""
    screen = first_screen(case("over midnight"), units="us")
    table = screen.split("\n\n")[3].split("\n")
    assert table[0].startswith("Roof sheet, Thu May 1")
    assert table.index("  Fri May 2") < next(
        at for at, line in enumerate(table) if "12:10 am  lock edges" in line
    )
    assert "be down by Fri May 2 3:55 am" in screen


def test_no_window_says_what_binds(case) -> None:
    """Without a window there is no phase table, and the limit that stops it is named."""
    screen = first_screen(case("no window"), units="us")
    assert "limit comes from" not in screen
    said = " ".join(screen.split())
    assert "Against the best start there is: a gust over 4.0 mph at Fri May 2 7:00 am." in said
    assert "no hours: a gust over 4.0 mph" in screen


def test_a_step_that_waits_says_for_what(case) -> None:
    """A step whose forerunner finds no hours names it."""
    said = " ".join(first_screen(case("waiting"), units="us").split())
    assert "roof sheet waits for end wall south, which finds no hours" in said


def test_next_starts_leave_out_the_chosen_one(plan: Plan) -> None:
    """Ranks 2 and 3 follow the best start."""
    lines = first_screen(plan, units="us").split("\n")
    ranks = [line[12] for line in lines if re.match(r"(Next starts | {12})\d  ", line)]
    assert ranks == ["2", "3"]


def test_done_steps_are_not_listed(plan: Plan) -> None:
    """A finished step is left out of the list of steps."""
    end_wall, roof = plan.steps
    done = replace(end_wall, step=replace(end_wall.step, done=True))
    assert "end wall south" not in first_screen(replace(plan, steps=(done, roof)), units="us")


def test_hours_left_today_add_up(plan: Plan) -> None:
    """Now is 8:10 am, so 15 starts on the hour are left: 11 to 7 pm, 4 in the dark."""
    screen = first_screen(plan, units="us")
    assert "Of 15 starts left today, on the hour: 11 fail on gust, 4 fail on light." in screen


def test_waiting_for_a_better_day_is_not_called_no_day(plan: Plan) -> None:
    """Where today holds too, hold means that a better start is coming."""
    end_wall, roof = plan.steps
    first, second, third = roof.found.windows
    back = second.start - plan.now.floor("h") - pd.Timedelta(hours=2)
    moved = {
        name: getattr(second, name) - back
        for name in ("start", "earliest_start", "latest_start", "end", "down_by")
    }
    found = replace(roof.found, windows=(first, replace(second, **moved), third))
    screen = first_screen(
        replace(plan, steps=(end_wall, replace(roof, found=found))), units="us"
    )
    assert "Wait with the roof sheet: a better start than today's is coming." in screen
    assert "No roof sheet today" not in screen


def test_an_overhead_line_comes_first(plan: Plan) -> None:
    """With a line over the site its caution leads, with throw length + 3 m: 20.1 m is 66 ft."""
    place = replace(plan.job.place, overhead_line=True)
    wired = replace(plan, job=replace(plan.job, place=place))
    screen = first_screen(wired, units="us")
    assert "Cautions    Overhead lines: throw no line within 66 ft of one." in screen
    assert "Cautions    Trust the meter" in first_screen(plan, units="us")


def test_a_day_without_dusk_or_dawn(case) -> None:
    """The sun that stays up and the sun that stays down are told apart by the light left."""
    plan = case("no dusk")
    assert "work light all day on Thu May 1" in first_screen(plan, units="us")
    dark = tuple(
        replace(
            x,
            found=replace(
                x.found, hours=tuple(replace(row, work_light_left=0.0) for row in x.found.hours)
            ),
        )
        for x in plan.steps
    )
    assert "no work light on Thu May 1" in first_screen(replace(plan, steps=dark), units="us")


@pytest.mark.parametrize("name", ["Grünes Tal – Nr. 5", "x" * 150, "$_1^2$", "名前"])
def test_any_name_can_be_printed(plan: Plan, name: str) -> None:
    """Names in any script and of any length stay inside the terminal."""
    named = replace(plan, job=replace(plan.job, name=name))
    screen = first_screen(named, units="si")
    assert screen.isascii()
    assert max(map(len, screen.split("\n"))) <= WIDTH


def test_show_takes_the_job_s_own_units(plan: Plan) -> None:
    """In a notebook the units are the job file's."""
    assert show(plan) == first_screen(plan, units="us")
    assert show(plan, units="si") == first_screen(plan, units="si")


def test_after_the_last_day_no_step_is_listed(case) -> None:
    """Where nothing can start any more, neither reasons nor steps are gone through."""
    screen = first_screen(case("past finish"), units="us")
    assert "Why" not in screen
    assert "Steps" not in screen


def test_the_title_of_the_limits_fits_beside_long_phases(case) -> None:
    """With brackets and a name of 22 letters the title is shortened, not the line broken."""
    plan = case("many weathers")
    window = plan.decision.window
    first = replace(window.phases[0], phase="x" * 30)
    long = replace(window, phases=(first, *window.phases[1:]))
    screen = first_screen(
        replace(plan, decision=replace(plan.decision, window=long)), units="us"
    )
    assert max(map(len, screen.split("\n"))) <= WIDTH
    assert "limit  set by" in screen
    assert "limit  limit comes from" in first_screen(plan, units="us")
