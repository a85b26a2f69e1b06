"""Wording of clocks, amounts, reasons and origins."""

from __future__ import annotations

import datetime as dt
import math
import re
import string

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.hours.records import Reason
from planner.job.records import QUANTITIES, Limit
from planner.plan.records import LightDay
from planner.report.words import Words, day, duration, of_100, people, plain, wrap

ZONE = "America/Chicago"
US = Words(units="us", time_zone=ZONE)
SI = Words(units="si", time_zone=ZONE)
QUARTER_INCH_MM = 25.4 / 4
FORBIDDEN = re.compile(r"\b(nan|members?|margin|p90|inf)\b", re.IGNORECASE)


def at(text: str) -> pd.Timestamp:
    return pd.Timestamp(text, tz=ZONE).tz_convert("UTC")


def a_reason(quantity: str, **more: object) -> Reason:
    about: dict[str, object] = {
        "quantity": quantity,
        "side": "at most",
        "value": 3.0,
        "bound": 2.28,
        "unit": "m/s",
        "at": at("2031-05-01 07:00"),
        "phase": "pull over",
        "share": 1.0,
    }
    return Reason(**(about | more))


@pytest.mark.parametrize(
    ("time", "us", "si"),
    [
        ("2031-05-01 00:00", "12:00 am", "00:00"),
        ("2031-05-01 06:15", "6:15 am", "06:15"),
        ("2031-05-01 12:05", "12:05 pm", "12:05"),
        ("2031-05-01 23:59", "11:59 pm", "23:59"),
    ],
)
def test_clock_at_noon_and_midnight(time: str, us: str, si: str) -> None:
    """The twelve-hour clock turns over at noon and midnight."""
    assert (US.clock(at(time)), SI.clock(at(time))) == (us, si)


def test_clock_is_the_place_s_own_over_a_clock_change() -> None:
    """Summer time began at 2 am on 9 March 2031 in the invented place's zone."""
    before = pd.Timestamp("2031-03-09 07:30", tz="UTC")
    assert US.clock(before) == "1:30 am"
    assert US.clock(before + pd.Timedelta(hours=1)) == "3:30 am"


def test_day_needs_no_locale() -> None:
    """Days are written by our own tables; checked against the calendar module's numbers."""
    for number in range(400):
        date = dt.date(2031, 1, 1) + dt.timedelta(days=number)
        assert day(date) == f"{date:%a %b} {date.day}"


def test_spans_name_the_half_of_the_day_once() -> None:
    """One half, two halves, one time, and a range that ends on the next day."""
    first = at("2031-05-01 06:15")
    assert US.span(first, at("2031-05-01 07:00")) == "6:15 to 7:00 am"
    assert US.span(first, at("2031-05-01 13:00")) == "6:15 am to 1:00 pm"
    assert US.span(first, first) == "6:15 am"
    late = at("2031-05-01 23:30")
    assert US.span(late, at("2031-05-02 00:15")) == "11:30 pm to Fri May 2 12:15 am"


def test_midnight_ends_the_day_before() -> None:
    """A file that ends at midnight covers the day before it to its end."""
    assert US.until(at("2031-05-09")) == "the end of Thu May 8"
    assert SI.until(at("2031-05-09 01:00")) == "Fri May 9 01:00"


def test_durations() -> None:
    """Minutes up to an hour and a half, then hours."""
    said = [duration(x) for x in (5, 89.6, 105, 180)]
    assert said == ["5 min", "1 h 30 min", "1 h 45 min", "3 h"]


def test_amounts_in_both_systems() -> None:
    """5 mph is 2.2352 m/s and 41 F is 5 C by definition; 0.1 mm of rain is 0.004 in."""
    assert US.amount(2.2352, "gust") == "5.0 mph"
    assert SI.amount(2.2352, "gust") == "2.2 m/s"
    assert US.amount(5.0, "temp_air") == "41 F"
    assert US.amount(0.1, "rain") == "0.004 in"
    assert SI.amount(0.1, "rain") == "0.1 mm"
    assert US.amount(10.0, "film_swing") == "18 F"


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        (a_reason("gust"), "a gust over 5.1 mph at 7:00 am"),
        (a_reason("mean_wind"), "a steady wind over 5.1 mph at 7:00 am"),
        (a_reason("rain", value=1.0, bound=0.1), "rain from 7:00 am"),
        (
            a_reason("temp_air", side="at least", value=2.0, bound=5.0),
            "air under 41 F at 7:00 am",
        ),
        (a_reason("temp_air", value=40.0, bound=35.0), "air over 95 F at 7:00 am"),
        (a_reason("wetness"), "film too wet at 7:00 am"),
        (a_reason("no data", value=math.nan), "no data in the file for 7:00 am"),
        (a_reason("thunder"), "thunder at 7:00 am"),
    ],
)
def test_trouble(reason: Reason, said: str) -> None:
    """Each reason has its own sentence."""
    assert US.trouble(reason, on=dt.date(2031, 5, 1)) == said


def test_trouble_names_another_day() -> None:
    """A reason on another day than the one in hand says which."""
    assert US.trouble(a_reason("gust"), on=dt.date(2031, 4, 30)).endswith("Thu May 1 7:00 am")


def test_light_says_dawn_or_dusk() -> None:
    """Too dark before dawn and too dark after dusk are different sentences."""
    light = LightDay(
        day=dt.date(2031, 5, 1),
        sunrise=None,
        sunset=None,
        begin=at("2031-05-01 05:51"),
        end=at("2031-05-01 20:29"),
    )
    words = Words(units="us", time_zone=ZONE, light=(light,))
    about = {"side": "at least", "value": -math.inf, "bound": 0.0, "unit": "min"}
    on = dt.date(2031, 5, 1)
    early = a_reason("light", at=at("2031-05-01 06:00"), **about)
    late = a_reason("light", at=at("2031-05-01 21:00"), **about)
    unknown = a_reason("light", at=at("2031-05-01 05:30"), **(about | {"value": math.nan}))
    holding = a_reason("light", at=at("2031-05-01 09:00"), **(about | {"value": 600.0}))
    assert words.trouble(early, on=on) == "no work light before 5:51 am"
    assert words.trouble(unknown, on=on) == "no work light before 5:51 am"
    assert words.trouble(late, on=on) == "light runs out at 8:29 pm"
    assert words.closest(holding, on=on) == "light runs out at 8:29 pm"
    assert US.trouble(late, on=on) == "no work light at 9:00 pm"


@pytest.mark.parametrize("quantity", [*QUANTITIES, "thunder_ahead", "no data", "something_new"])
@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("side", ["at most", "at least"])
@pytest.mark.parametrize("value", [3.0, 0.0, math.nan, -math.inf])
def test_every_quantity_can_be_said(quantity: str, units: str, side: str, value: float) -> None:
    """No quantity, known or new, prints a word that means nothing in the yard."""
    words = Words(units=units, time_zone=ZONE)
    reason = a_reason(quantity, side=side, value=value, bound=1.0)
    for said in (words.trouble(reason), words.brief(reason), words.compared(reason)):
        assert said
        assert said.isascii()
        assert not FORBIDDEN.findall(said)


def test_typed_limit_is_printed_with_the_one_it_replaced() -> None:
    """5.1 mph is 2.28 m/s; the typed 4 mph stands beside it."""
    typed = Limit(
        quantity="gust",
        side="at most",
        bound=1.788,
        scale=1.788,
        kind="yours",
        source="typed in the job file",
        replaced=2.28,
        replaced_source="5 people hold it",
    )
    assert US.origin(typed) == "yours; 5 people hold 5.1"


def test_overruled_typed_limit_is_still_printed() -> None:
    """A ceiling that governs names the typed limit that it overrules."""
    ceiling = Limit(
        quantity="gust", side="at most", bound=4.5, scale=4.5, kind="practice", source="ceiling"
    )
    typed = Limit(
        quantity="gust",
        side="at most",
        bound=6.0,
        scale=6.0,
        kind="yours",
        source="typed in the job file",
        governs=False,
    )
    assert SI.origin(ceiling, others=(typed,)) == "ceiling; yours 6.0"
    assert SI.origin(ceiling) == "ceiling"


@given(st.floats(-200.0, 200.0))
def test_pull_is_rounded_to_what_a_hand_can_do(pull: float) -> None:
    """Within half of 5 mm, or half a quarter inch, and slack is never called pull."""
    si = SI.pull_span("over the bows", pull)
    us = US.pull_span("over the bows", pull)
    shown = 0.0 if si.startswith("snug") else float(si.split(" mm")[0].split()[-1])
    assert abs(shown - abs(pull)) <= 2.5
    inches = us.split(" in ")[0].removeprefix("pull ").removeprefix("leave ")
    parts = [] if us.startswith("snug") else inches.split()
    total = sum(
        float(x.split("/")[0]) / float(x.split("/")[1]) if "/" in x else float(x) for x in parts
    )
    assert abs(total * 25.4 - abs(pull)) <= QUARTER_INCH_MM / 2 + 1e-9
    for said in (si, us):
        assert said.startswith("pull") <= (pull > 0)
        assert said.startswith("leave") <= (pull < 0)


@given(st.floats(0.0, 1.0, exclude_min=True, exclude_max=True))
def test_no_chance_is_called_certain(chance: float) -> None:
    """Only 0 and 1 may be written 0 and 100 of 100."""
    assert of_100(chance) not in {"0 of 100", "100 of 100"}


@given(st.text())
def test_plain_is_ascii_on_one_line(text: str) -> None:
    """Whatever is typed as a name can be printed on any terminal."""
    assert plain(text).isascii()
    assert "\n" not in plain(text)


@given(st.text(alphabet=string.ascii_letters + string.digits + " .:", max_size=400))
def test_wrapped_lines_fit(text: str) -> None:
    """No line is longer than asked, whatever the text."""
    assert all(len(line) <= 40 for line in wrap(text, 40, first="- ", rest="  "))


def test_wrapping_keeps_dates_and_amounts_whole() -> None:
    """A date, a time or an amount is never cut at the end of a line."""
    text = "start Thu May 1 6:15 am under 5.1 mph for 20 min"
    lines = wrap(text, 22)
    assert any("Thu May 1 6:15 am" in line for line in lines)
    assert any("5.1 mph" in line for line in lines)


def test_people() -> None:
    """One person is not one people."""
    assert (people(1), people(2)) == ("1 person", "2 people")
