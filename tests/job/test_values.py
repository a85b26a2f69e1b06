"""Single values of a job file: times of day, days off, pairs, which units are spoken."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.job.values import (
    Refused,
    clock,
    day_off,
    film_thickness,
    pair,
    quantity,
    speaks_us,
)

ROUNDING = 1e-9


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("6:30 am", 390),
        ("6 am", 360),
        ("12 am", 0),
        ("12:05 pm", 725),
        ("8:00 P.M.", 1200),
        ("18:00", 1080),
        ("0:15", 15),
    ],
)
def test_times_of_day(text: str, minutes: int) -> None:
    """Twelve- and twenty-four-hour clocks are both read; midnight is 12 am."""
    assert clock("first light")(text) == minutes


@pytest.mark.parametrize(
    "text", ["24:00", "13 pm", "0 am", "6", "6.30", "noon", "last light", 6]
)
def test_what_is_no_time_of_day(text: object) -> None:
    """A bare hour could be morning or evening, so it is refused and not guessed."""
    with pytest.raises(Refused, match="time of day"):
        clock("first light")(text)


def test_the_word_for_a_time() -> None:
    """The one word that stands for a time is kept, however it is written."""
    assert clock("first light")(" First Light ") == "first light"


def test_days_off() -> None:
    """Dates and weekday names are days off; a moment is not."""
    assert day_off("SUNDAY") == "Sunday"
    assert day_off(dt.date(2026, 5, 3)) == dt.date(2026, 5, 3)
    with pytest.raises(Refused, match="not a date"):
        day_off(dt.datetime(2026, 5, 3, 6, tzinfo=dt.UTC))


def test_pairs() -> None:
    """Either side of a pair may be switched off; both off is the same as off."""
    read = pair("temperature", -40.0, 60.0)
    assert read(["5 C", "95 F"]) == pytest.approx((5.0, 35.0))
    assert read(["off", "35 C"]) == (None, 35.0)
    assert read(["off", "off"]) == read("off") == "off"


@pytest.mark.parametrize(
    ("text", "us"),
    [
        ("30 ft", True),
        ("30 ft 6 in", True),
        ("30'", True),
        ("41F", True),
        ("5 mph", True),
        ("9.1 m", False),
        ("35 C", False),
        ("3 m/s", False),
        ("10 min", False),
        (30, False),
    ],
)
def test_which_units_are_spoken(text: object, us: bool) -> None:
    """Feet, inches, mph and Fahrenheit are US; minutes are not inches."""
    assert speaks_us(text) is us


@given(st.floats(2.0, 20.0))
def test_a_length_inside_its_bounds_is_itself(length: float) -> None:
    """A length between the bounds comes back as it was typed, in metres or in feet."""
    read = quantity("length", 1.9, 20.1)
    assert read(f"{length:.9f} m") == pytest.approx(length, abs=ROUNDING)
    assert read(f"{length / 0.3048:.9f} ft") == pytest.approx(length, abs=ROUNDING)


@given(st.one_of(st.floats(allow_nan=True), st.integers(), st.text(), st.booleans(), st.none()))
def test_readers_read_or_refuse(given_value: object) -> None:
    """Whatever it is given, a reader reads it or refuses it with words."""
    for read in (
        film_thickness,
        quantity("speed", 0.3, 30.0),
        pair("temperature", -40.0, 60.0),
    ):
        try:
            read(given_value)
        except Refused as refusal:
            said = refusal.message
        else:
            said = "read"
        assert said
