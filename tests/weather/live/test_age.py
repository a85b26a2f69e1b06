"""Ages and lifetimes, held to the rules of RFC 9111 and RFC 9110."""

import datetime as dt

import pytest
from requests.structures import CaseInsensitiveDict

from planner.weather.hourly.issued import age_of
from planner.weather.live.age import (
    clock_notes,
    future_notes,
    http_time,
    is_fresh,
    lifetime,
    service_time,
    whole_seconds,
)

USUAL = dt.timedelta(minutes=30)
MINUTE = dt.timedelta(minutes=1)


def test_the_three_ways_to_write_a_time():
    """The examples of RFC 9110, section 5.6.7: one moment, today's form and two old ones."""
    moment = dt.datetime(1994, 11, 6, 8, 49, 37, tzinfo=dt.UTC)
    for text in (
        "Sun, 06 Nov 1994 08:49:37 GMT",
        "Sunday, 06-Nov-94 08:49:37 GMT",
        "Sun Nov  6 08:49:37 1994",
    ):
        assert http_time(text) == moment


@pytest.mark.parametrize(
    "text",
    [
        *(None, "", "0", "-1", "soon", "Sun, 99 Nov 1994 08:49:37 GMT"),
        "Fri, 31 Dec 9999 23:59:59 -2359",
    ],
)
def test_what_is_no_time_is_none(text):
    assert http_time(text) is None


def test_an_answer_that_lay_somewhere_on_the_way_is_older_than_its_date():
    date = {"Date": "Wed, 06 May 2026 11:00:00 GMT"}
    assert service_time({}) is None
    assert service_time(date) == dt.datetime(2026, 5, 6, 11, tzinfo=dt.UTC)
    assert service_time(date | {"Age": "90"}) == dt.datetime(
        2026, 5, 6, 11, 1, 30, tzinfo=dt.UTC
    )
    assert service_time(date | {"Age": "old"}) == service_time(date)
    last = {"Date": "Fri, 31 Dec 9999 23:59:59 GMT"}
    assert service_time(last | {"Age": "90"}) == service_time(last)


@pytest.mark.parametrize(
    ("headers", "minutes"),
    [
        ({}, 30),
        ({"Cache-Control": "public"}, 30),
        ({"Cache-Control": "max-age=120"}, 2),
        ({"Cache-Control": "public, MAX-AGE=0"}, 0),
        ({"Cache-Control": "no-cache, max-age=120"}, 0),
        ({"Expires": "Wed, 06 May 2026 11:07:00 GMT"}, 7),
        ({"Expires": "Wed, 06 May 2026 10:00:00 GMT"}, 0),
        ({"Expires": "0"}, 0),
        ({"Cache-Control": "max-age=120", "Expires": "Wed, 06 May 2026 11:07:00 GMT"}, 2),
    ],
)
def test_how_long_an_answer_serves(headers, minutes):
    """max-age before Expires, an Expires that is no date is past (RFC 9111, 4.2.1 and 5.3)."""
    date = {"Date": "Wed, 06 May 2026 11:00:00 GMT"}
    assert lifetime(date | headers, USUAL) == minutes * MINUTE


def test_expires_without_a_date_says_nothing():
    assert lifetime({"Expires": "Wed, 06 May 2026 11:07:00 GMT"}, USUAL) == USUAL


def hours(number):
    return dt.timedelta(hours=number)


def test_no_answer_serves_longer_than_six_hours_whatever_it_says():
    date = {"Date": "Wed, 06 May 2026 11:00:00 GMT"}
    for says in (
        {"Cache-Control": "max-age=864000"},
        {"Cache-Control": "max-age=999999999999999999999"},
        {"Expires": "Sat, 16 May 2026 11:00:00 GMT"},
        {"Cache-Control": "max-age=864000", "ETag": '"1"'},
    ):
        assert lifetime(date | says, USUAL, patient=True) == hours(6)
    assert lifetime(date, hours(9)) == hours(6)
    ten_days = date | {"Cache-Control": "max-age=864000"}
    assert lifetime(ten_days, USUAL, longest=hours(1)) == hours(1)


@pytest.mark.parametrize("mark", ["ETag", "last-modified"])
def test_where_it_costs_little_a_service_is_asked_after_half_an_hour(mark):
    """Not one whose terms want no question before the time it said."""
    says = CaseInsensitiveDict({"Cache-Control": "max-age=3600", mark: "x"})
    short = CaseInsensitiveDict({"Cache-Control": "max-age=60", mark: "x"})
    assert lifetime(says, USUAL) == 30 * MINUTE
    assert lifetime(says, USUAL, patient=True) == hours(1)
    assert lifetime({"Cache-Control": "max-age=3600"}, USUAL) == hours(1)
    assert lifetime(short, USUAL) == MINUTE


@pytest.mark.parametrize("text", ["", "-1", "1.5", "\N{SUPERSCRIPT TWO}", "soon"])
def test_what_is_no_number_of_seconds_is_none(text):
    assert whole_seconds(text, most=hours(1)) is None


def test_seconds_are_read_up_to_the_most():
    assert whole_seconds("90", most=hours(1)) == 1.5 * MINUTE
    assert whole_seconds("9" * 5000, most=hours(1)) == hours(1)


def test_fresh_until_the_life_is_over_and_never_from_the_future():
    assert is_fresh(29 * MINUTE, USUAL)
    assert not is_fresh(USUAL, USUAL)
    assert is_fresh(-MINUTE, USUAL)  # clocks differ a little
    assert not is_fresh(-2 * MINUTE, USUAL)


def test_small_differences_are_not_spoken_of():
    assert clock_notes(None) == clock_notes(5 * MINUTE) == clock_notes(-5 * MINUTE) == ()
    assert future_notes(-MINUTE) == future_notes(MINUTE) == ()


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (0, "0 min"),
        (35, "35 min"),
        (60, "1 h"),
        (320, "5 h 20 min"),
        (1440, "1 d"),
        (4561, "3 d 4 h"),
    ],
)
def test_spans_in_words(minutes, text):
    assert age_of(minutes * MINUTE) == text
