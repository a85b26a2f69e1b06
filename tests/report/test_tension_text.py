"""How tight, on a terminal: what to do now, the chart, the days after, the first screen."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from planner.hours.records import Window
from planner.plan.records import Plan, Strain
from planner.report.screen.first import WIDTH, first_screen
from planner.report.screen.tension import tension_screen
from planner.report.words import Words
from planner.report.yard.tension import band, beyond
from tests.report.conftest import ZONE, at, with_roof
from tests.report.made_tension import CASES, now_at, with_course

FORBIDDEN = re.compile(r"\b(nan|members?|margin|p90|inf)\b", re.IGNORECASE)
US, SI = Words(units="us", time_zone=ZONE), Words(units="si", time_zone=ZONE)
SLACK = Strain(code="slack-hot", at=at("2031-05-13 14:00"), value=44.0, allowed=31.0, unit="mm")


def flat(text: str) -> str:
    """The text on one line, to look for sentences that were wrapped."""
    return " ".join(text.split())


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("name", CASES)
def test_every_screen_fits_a_terminal(name: str, units: str) -> None:
    """80 columns, ASCII, no trailing blanks, none of the words kept for the code."""
    screen = tension_screen(CASES[name](), units=units)
    for line in screen.split("\n"):
        assert len(line) <= WIDTH, line
        assert line == line.rstrip()
    assert screen.isascii()
    assert not FORBIDDEN.findall(screen)
    assert "\n\n\n" not in screen
    assert not screen.endswith("\n")


@pytest.mark.parametrize("name", CASES)
def test_every_screen_says_how_to_measure_and_what_is_not_known(name: str) -> None:
    """Where the film is measured, that tension is a band, and where the channel's is from."""
    screen = flat(tension_screen(CASES[name](), units="us"))
    assert "the mean of three" in screen
    assert "never on film that lies on the ground" in screen
    assert "the sunny and the shaded side each" in screen
    assert "mark 2.000 m on an offcut" in screen
    assert "Channel is taken to hold" in screen


def test_hot_film_is_left_slack_and_cold_film_is_pulled() -> None:
    """-25.4 mm is an inch of slack, 38.1 mm an inch and a half of pull; sag 50.8 mm 2 in."""
    hot = flat(tension_screen(now_at(48.0), units="us"))
    cold = flat(tension_screen(now_at(8.0), units="us"))
    assert "NOW Film 118 F at the locks: leave 1 in slack over the bows" in hot
    assert (
        "Leave a hand's slack: right when it sags 2 in midway between bows, or lifts 3/4 in "
        "off the ridge." in hot
    )
    assert "NOW Film 46 F at the locks: pull 1 1/2 in past snug over the bows" in cold
    assert "sags" not in cold


def test_what_the_hand_pulls_in_both_units() -> None:
    """200 N/m is 13.7 lbf/ft: 1 lbf is 4.4482 N, 1 ft is 0.3048 m."""
    cold = now_at(8.0)
    assert "about 14 lbf on each foot" in flat(tension_screen(cold, units="us"))
    assert "about 200 N on each metre" in flat(tension_screen(cold, units="si"))


def test_without_a_measured_film_there_is_no_now() -> None:
    """The screen asks for the measurement instead of saying what to do."""
    screen = tension_screen(replace(now_at(8.0), now=None), units="si")
    assert "NOW" not in screen
    assert "\nMeasure  Measure the film" in screen


def test_the_chart_rounds_to_what_a_hand_can_set() -> None:
    """38.1 mm is written 40, and -25.4 mm 25 of slack; the spans stand over their columns."""
    screen = tension_screen(now_at(8.0), units="si")
    rows = {line[:4].strip(): flat(line) for line in screen.split("\n") if line[4:7] == " C "}
    assert rows["8"] == "8 C pull 40 mm pull 75 mm - pull"
    assert rows["48"] == "48 C slack 25 mm slack 50 mm 50 mm leave a hand's slack"
    assert "7.0 m" in screen
    assert "15.0 m" in screen


def test_the_stress_free_film_has_its_line_in_the_chart() -> None:
    """Between 8 and 48 degC where no row is its own, and only once where one is."""
    screen = tension_screen(now_at(8.0), units="si")
    assert screen.count("snug, stress-free") == 1
    assert screen.index("  8 C   pull") < screen.index(" 35 C   snug") < screen.index(" 48 C")
    plan = now_at(8.0)
    snug = replace(
        plan.chart.rows[0], film_temp=35.0, pull=dict.fromkeys(plan.chart.spans, 0.0)
    )
    chart = replace(plan.chart, rows=(*plan.chart.rows, replace(snug, hand="snug")))
    assert tension_screen(replace(plan, chart=chart), units="si").count("stress-free\n") == 1


def test_the_choice_is_shown_both_ways() -> None:
    """Slack of a hot day beside tension of a cold night, the job's own choice marked."""
    lines = tension_screen(now_at(8.0), units="si").split("\n")
    own = [flat(line) for line in lines if "this job" in line]
    assert own == ["35 C 30 mm 265 (222 to 699) this job"]
    assert any(flat(line) == "45 C none 292 (230 to 831)" for line in lines)


def test_the_days_after_name_their_hours() -> None:
    """Time, film, slack or tension, and the most as a share of yield and of channel."""
    lines = [flat(x) for x in tension_screen(with_course(), units="si").split("\n")]
    [first] = [x for x in lines if x.startswith("an hour on")]
    assert first.endswith("12 C - 150 (140 to 270) 15% 54%")
    assert "hottest Wed May 7 14:00 50 C 25 mm - - -" in lines
    assert "coldest Wed May 7 03:00 3 C - 110 (100 to 220) 11% 44%" in lines
    assert "largest gust Tue May 6 15:00 - no data no data - -" in lines
    screen = flat(tension_screen(with_course(), units="us"))
    assert "The largest gust, 27.7 mph at the ridge, adds 23 lbf/ft" in screen
    assert "Each end bow is pulled inwards with up to 424 lbf" in screen
    assert "A bare bow in the sun reaches 131 F." in screen
    assert "Film is worked out, 5 F off by day and 4 F by night" in screen


def test_how_far_a_roll_up_side_grows() -> None:
    """203.2 mm is 8 in."""
    screen = flat(tension_screen(now_at(8.0), units="us"))
    assert "A roll-up side grows 8 in along the house" in screen


def test_what_is_beyond_says_what_to_do() -> None:
    """Slack wants a higher stress-free temperature, tension a lower one, a gust straps."""
    plan = with_course()
    strains = (
        SLACK,
        replace(SLACK, code="tension-cold", value=620.0, allowed=500.0, unit="N/m"),
        replace(SLACK, code="gust-over-channel", value=640.0, allowed=500.0, unit="N/m"),
    )
    plan = replace(plan, course=replace(plan.course, beyond=strains))
    screen = flat(tension_screen(plan, units="si"))
    assert "Warnings Slack 45 mm over the bows Tue May 13 14:00, 30 mm is well. A higher" in (
        screen
    )
    assert "Tension up to 620 N/m Tue May 13 14:00, 500 N/m is well. A lower" in screen
    assert "pulls 640 N/m, channel holds 500 N/m. Have straps or cords" in screen


def test_what_is_hardly_beyond_is_not_written_as_equal() -> None:
    """31.4 mm and 31.0 mm are both 1 1/4 in."""
    said = beyond(replace(SLACK, value=31.4), US)
    assert said == "Slack just over 1 1/4 in over the bows Tue May 13 2:00 pm, 1 1/4 in is well"


def test_two_layers_name_what_the_fan_adds() -> None:
    """162 N/m, a quarter inch of water on bows of 2.6 m, is 11 lbf/ft."""
    screen = flat(tension_screen(CASES["double"](), units="us"))
    assert "two layers" in screen
    assert "Of the tension, 11 lbf/ft is the air between the layers." in screen
    assert "Air between" not in tension_screen(now_at(8.0), units="us")


def test_a_known_channel_is_not_called_assumed() -> None:
    """The job file's own figure is said to be that."""
    known = replace(now_at(8.0), channel_known=True, allowed=730.0)
    screen = flat(tension_screen(known, units="si"))
    assert "Channel is taken to hold 730 N/m, as the job file says." in screen
    assert "assumed figure" in flat(tension_screen(now_at(8.0), units="si"))


def test_a_band_in_both_units() -> None:
    """50 N/m is 3.4 lbf/ft and 190 is 13.0; without tension the film is slack."""
    assert band((50.0, 80.0, 190.0), "si") == "50 to 190 N/m"
    assert band((50.0, 80.0, 190.0), "us") == "3 to 13 lbf/ft"
    assert band((0.0, 0.0, 0.0), "si") == "slack"


def at_locks(plan: Plan, **more: object) -> Plan:
    """The plan with film temperature and pull at the locks of its best window."""
    first, *rest = plan.steps[1].found.windows
    about: dict[str, object] = {
        "film_temp": 14.4,
        "pull": {"over the bows": 41.3, "end to end": -12.0},
        "first_night": (50.0, 80.0, 190.0),
    }
    best: Window = replace(first, **(about | more))
    return with_roof(plan, (best, *rest))


def test_the_first_screen_says_the_first_night(plan: Plan) -> None:
    """After the pull stands the tension of the night that follows, if it is known."""
    screen = flat(first_screen(at_locks(plan), units="us"))
    assert "First night about 3 to 13 lbf/ft." in screen
    without = first_screen(at_locks(plan, first_night=None), units="us")
    assert "First night" not in without


@pytest.mark.parametrize(("shaded", "said"), [(7.2, True), (12.0, False), (None, False)])
def test_the_first_screen_names_the_shaded_side_where_it_differs(
    plan: Plan, shaded: float | None, said: bool
) -> None:
    """7.2 degC is 45 F; within 3 K the sides are one."""
    screen = flat(first_screen(at_locks(plan, film_temp_shaded=shaded), units="us"))
    assert ("Shaded side 45 F: its own row of the pull chart." in screen) is said
    assert ("Shaded" in screen) is said


def test_the_first_screen_warns_of_what_is_beyond(plan: Plan) -> None:
    """Slack past what is well is a line of its own, and without it there is none."""
    screen = flat(first_screen(replace(plan, beyond=(SLACK,)), units="us"))
    assert (
        "Tension Slack 1 3/4 in over the bows Tue May 13 2:00 pm, 1 1/4 in is well: "
        "see planner tension." in screen
    )
    assert "\nTension" not in first_screen(plan, units="us")


def test_lengths_without_a_number_are_no_data() -> None:
    """A hand is never told to pull a number that is not there."""
    assert US.small(math.nan) == SI.small(math.nan) == "no data"
