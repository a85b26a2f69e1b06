"""What the crew card holds: limits in the hand, signs to see, film temperatures, stops."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.job.jobfile import read_job
from planner.plan.make import make_plan
from planner.plan.pull import pull_chart
from planner.plan.records import Plan
from planner.report.answer.why import why
from planner.report.card.rows import Card, card_rows, film_temps
from planner.report.words import Words
from planner.report.yard.fine_print import TRUST, cautions
from planner.site.wind import gust_at_height
from planner.weather.read import read_weather
from planner.weather.table import Note
from tests.report import made_chances
from tests.report.conftest import forecast_plan, pulled
from tests.report.made_cards import MADE, current

DATA = Path(__file__).parents[2] / "data"
#: WMO-No. 306, code table 1100: least mean wind at 10 m [m/s], and what is seen on land.
WMO = {
    0: (0.0, "smoke goes straight"),
    1: (0.3, "smoke leans"),
    2: (1.6, "on your face"),
    3: (3.4, "light flag"),
    4: (5.5, "loose paper"),
    5: (8.0, "small trees"),
    6: (10.8, "umbrella"),
    7: (13.9, "whole trees"),
    8: (17.2, "twigs break off"),
    9: (20.8, "shingles"),
    10: (24.5, "uprooted"),
    11: (28.5, "wide damage"),
    12: (32.7, "devastation"),
}
#: The hourly gust that goes with a mean over open ground, a + b U, in 14 years of stations.
USUAL = (0.75, 1.47)


PULLED = pulled(forecast_plan())


def card_of(plan: Plan, units: str = "us") -> Card:
    return card_rows(plan, Words(units=units, time_zone=plan.time_zone, light=plan.light))


@pytest.fixture(scope="module")
def demo() -> Plan:
    job, weather = read_job(DATA / "larkfield.toml"), read_weather(DATA / "forecast.csv")
    return make_plan(job, weather, count=40)


@pytest.mark.parametrize("number", WMO)
def test_the_sign_belongs_to_the_number(number: int) -> None:
    """What is to be seen at each Beaufort number, by the code table."""
    plan = made_chances.go()
    window = plan.decision.window
    assert window is not None
    phases = tuple(replace(x, beaufort=float(number)) for x in window.phases)
    decision = replace(plan.decision, window=replace(window, phases=phases))
    work = card_of(replace(plan, decision=decision)).work
    assert work is not None
    assert all(WMO[number][1] in x.sign for x in work.phases)


def test_the_sign_is_not_later_than_the_steady_limit(demo: Plan) -> None:
    """The mean limit at the sheet, raised to 10 m by the log law, and its line of the table."""
    window, work = demo.decision.window, card_of(demo).work
    assert window is not None
    assert work is not None
    here = next(x for x in demo.steps if x.step.name == window.step)
    heights = {x.name: x.height for x in here.step.phases}
    signs = 0
    for phase, row in zip(window.phases, work.phases, strict=True):
        means = [x.bound for x in here.found.limits[phase.phase] if x.quantity == "mean_wind"]
        if not means:
            continue
        ratio = math.log(heights[phase.phase] / 0.03) / math.log(10.0 / 0.03)
        steady = max(x for x, (least, _) in WMO.items() if least <= min(means) / ratio)
        shown = next(x for x, (_, said) in WMO.items() if said in row.sign)
        assert shown == phase.beaufort
        assert shown <= steady
        signs += 1
    assert signs >= 5


def test_a_sign_comes_before_the_gust_limit(demo: Plan) -> None:
    """The least wind of a sign has not yet gusts beyond the limit, as gusts usually are."""
    window, work = demo.decision.window, card_of(demo).work
    assert window is not None
    assert work is not None
    here = next(x for x in demo.steps if x.step.name == window.step)
    for phase, row in zip(here.step.phases, work.phases, strict=True):
        limit = next(x.gust_limit for x in window.phases if x.phase == phase.name)
        least = next(
            (least for least, said in WMO.values() if said in row.sign and row.sign), 0.0
        )
        assert row.sign or row.hand_limit == "-"
        gust = USUAL[0] + USUAL[1] * least
        assert gust * float(gust_at_height(1.0, phase.height)) <= limit, row


@pytest.mark.parametrize("units", ["us", "si"])
@settings(max_examples=60, deadline=None)
@given(
    film=st.floats(-5.0, 52.0),
    shaded=st.floats(-12.0, 0.0),
    warmer=st.floats(-30.0, 30.0),
)
def test_film_temperatures_are_those_of_the_day(
    units: str, film: float, shaded: float, warmer: float
) -> None:
    """Eight round ones, rising evenly, inside the film's table, the locks' own among them."""
    window = PULLED.decision.window
    assert window is not None
    window = replace(window, film_temp=film, film_temp_shaded=film + shaded)
    roof = PULLED.steps[1]
    day = roof.found.hours[48:72]  # of the window
    rows = tuple(replace(x, film_temp=x.temp_air + warmer) for x in day)
    roof = replace(roof, found=replace(roof.found, hours=rows))
    temps = film_temps(replace(PULLED, steps=(roof,)), window, units=units)
    shown = [x * 9.0 / 5.0 + 32.0 for x in temps] if units == "us" else list(temps)
    step = 10.0 if units == "us" else 5.0
    assert len(shown) == 8
    assert all(abs(x / step - round(x / step)) < 1e-9 for x in shown)
    assert all(abs(b - a - step) < 1e-9 for a, b in pairwise(shown))
    assert -40.0 <= temps[0] < temps[-1] <= 60.0
    assert temps[0] <= film <= temps[-1]
    assert temps[0] <= film + shaded


def test_a_day_that_is_hot_is_in_the_chart() -> None:
    """From a dawn at 12 C to a noon film of 38 C: rows every 5 C that hold both."""
    plan = pulled(forecast_plan())
    window = plan.decision.window
    assert window is not None
    window = replace(window, film_temp=16.0, film_temp_shaded=14.0)
    end_wall, roof = plan.steps
    rows = tuple(
        replace(x, film_temp=12.0 + 26.0 * math.sin(math.pi * (at % 24) / 24.0) ** 2)
        for at, x in enumerate(roof.found.hours)
    )
    plan = replace(plan, steps=(end_wall, replace(roof, found=replace(roof.found, hours=rows))))
    temps = [round(x, 9) for x in film_temps(plan, window, units="si")]
    assert temps[0] <= 12.0 + 5.0
    assert temps[-1] >= 38.0 - 5.0
    assert 10.0 in temps


def test_pull_of_the_chart_is_that_of_the_window() -> None:
    """At the film temperature of the window the chart has the pull that the window has."""
    plan = pulled(forecast_plan())
    pull = pull_chart(plan.job, [15.0]).rows[0].pull
    work = card_of(plan, "si").work
    assert work is not None
    assert work.pull is not None
    line = next(x for x in work.pull.lines if x.film == "15 C")
    for said, amount in zip(line.pulls, pull.values(), strict=True):
        assert said.startswith("pull ")
        assert abs(float(said.split()[1]) - amount) <= 2.5


def test_too_cold_to_pull_is_said() -> None:
    """A row under the least temperature of film says wait instead of a sag."""
    work = card_of(pulled(forecast_plan()), "us").work
    assert work is not None
    assert work.pull is not None
    checks = {x.film: x.check for x in work.pull.lines}
    assert checks["40 F"] == "too cold: wait"  # 41 F is the least
    assert "too cold" not in checks["50 F"]


def test_no_chart_without_a_pull() -> None:
    """A step in which no tension is set has none."""
    work = card_of(forecast_plan()).work
    assert work is not None
    assert work.pull is None


def test_times_are_those_of_the_window() -> None:
    """From the earliest start to the latest, and down by; another day is named."""
    work = card_of(MADE["over midnight"]()).work
    assert work is not None
    assert work.times == (
        ("start from", "10:30 pm"),
        ("last start", "11:15 pm"),
        ("down by", "Fri May 2 3:55 am"),
    )


def test_the_lowest_limit_is_the_lowest_in_the_hand() -> None:
    """4.0 mph at the sheet is 3.6 in the hand by the made factor of 0.9; and its phase."""
    work = card_of(forecast_plan()).work
    assert work is not None
    assert work.stops[0].endswith("gusts under 3.6 mph.")
    assert min(float(x.hand_limit) for x in work.phases) == 3.6


def test_stop_lines_say_thunder_light_rain_and_minutes() -> None:
    """What the job file says of thunder, the day's light, the rain, the minutes to keep."""
    work = card_of(forecast_plan()).work
    assert work is not None
    said = "\n".join(work.stops)
    assert "Thunder: off the frame, and 30 min" in said
    assert "8:29 pm" in said
    assert "be down by 11:25 am" in said
    assert "Rain on loose film" in said
    assert "Keep 15 min of it in hand" in said


def test_no_limit_is_no_stop_line() -> None:
    """Phases without a gust limit: no lowest one is made up."""
    plan = forecast_plan()
    window = plan.decision.window
    assert window is not None
    free = tuple(replace(x, gust_limit=math.inf, hand_limit=math.inf) for x in window.phases)
    plan = replace(plan, decision=replace(plan.decision, window=replace(window, phases=free)))
    work = card_of(plan).work
    assert work is not None
    assert not any("Lowest" in x for x in work.stops)
    assert {x.hand_limit for x in work.phases} == {"-"}


@pytest.mark.parametrize("name", MADE)
def test_every_caution_stands_once(name: str) -> None:
    """Among the cautions or, that on thunder, among the stop lines; the first in large type."""
    plan = MADE[name]()
    card = card_of(plan)
    stops = card.work.stops if card.work else ()
    given = cautions(plan.job, keep_clear=plan.hardware.keep_clear, units="us")
    given = tuple(x for x in given if x != TRUST)  # OUTRANKS says it, larger
    assert sorted(given) == sorted([*card.cautions, *(x for x in stops if x in given)])


def test_only_a_go_lets_its_times_count() -> None:
    """A hold with a window says aloud that its times do not count yet."""
    assert "only once a newer plan says GO" in card_of(current(made_chances.low_chance())).use
    assert card_of(current(made_chances.go())).use.startswith("Do not use after")


def test_what_may_fall_is_said() -> None:
    """What is up and may not stand until then is on the card."""
    said = " ".join(card_of(made_chances.left(0.6)).said)
    assert "WATCH OUT: what is up stands to 40.0 mph" in said
    assert "WATCH OUT" not in " ".join(card_of(made_chances.left(0.95)).said)


@pytest.mark.parametrize("name", ["no window", "no data", "past finish", "waiting"])
def test_without_a_start_the_answer_and_why(name: str) -> None:
    """No phases, no stop lines: answer, why where there is more to say, look again."""
    plan = MADE[name]()
    card = card_of(plan)
    assert card.work is None
    assert card.said[-1] == "No start to print."
    assert set(why(plan, Words(units="us", time_zone=plan.time_zone, light=plan.light))) <= {
        *card.said
    }
    assert name == "past finish" or "Look again Wed Apr 30 8:00 pm." in card.said[0]


def test_whose_weather_it_is() -> None:
    """The credit, what was filled, and every doubt, but no advice for who makes the plan."""
    plan = forecast_plan()
    doubt = Note(code="place_unknown", text="The file names no place.", doubt=True)
    advice = Note(code="learned-elsewhere", text="Make a table of your own.", doubt=True)
    card = card_of(replace(plan, notes=(*plan.notes, doubt, advice)))
    rests = card.rests
    assert rests[-1] == "Weather: Forecast by the invented met office of Quillet, CC BY 4.0"
    assert doubt.text in card.use  # beside how long the card may be used
    assert advice.text not in rests
    assert any("28 of 240 gusts" in x for x in rests)
