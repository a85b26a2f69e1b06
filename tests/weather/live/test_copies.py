"""How long a copy serves, whether it is asked for again, and which one helps out."""

import datetime as dt
import socket

import pytest

from planner.errors import WeatherError
from tests.weather.live.made_line import (
    GOOD,
    NOW,
    answer,
    anything,
    get,
    http_date,
    once,
)


def test_a_fresh_copy_is_not_asked_for_again(tmp_path, httpserver):
    url = answer(httpserver, headers={"Cache-Control": "max-age=600"})
    get(tmp_path, url)
    later = get(tmp_path, url, now=lambda: NOW + dt.timedelta(minutes=9))
    assert len(httpserver.log) == 1
    assert (later.kept, later.stale, later.age) == (True, False, dt.timedelta(minutes=9))
    get(tmp_path, url, now=lambda: NOW + dt.timedelta(minutes=11))
    assert len(httpserver.log) == 2


def test_where_the_service_says_nothing_the_usual_time_counts(tmp_path, httpserver):
    url = answer(httpserver)
    for minutes in (0, 19, 21):
        get(tmp_path, url, fresh=20, now=lambda m=minutes: NOW + dt.timedelta(minutes=m))
    assert len(httpserver.log) == 2


def test_expires_counts_from_the_date_of_the_service(tmp_path, httpserver):
    """A computer an hour behind would otherwise take an answer for fresh an hour too long."""
    an_hour = dt.timedelta(hours=1)
    expires = {"Expires": http_date(NOW + dt.timedelta(minutes=10)), "Date": http_date(NOW)}
    url = answer(httpserver, headers=expires)
    get(tmp_path, url, now=lambda: NOW - an_hour)
    get(tmp_path, url, now=lambda: NOW + dt.timedelta(minutes=11))
    assert len(httpserver.log) == 2


def test_an_unchanged_answer_is_not_sent_twice(tmp_path, httpserver):
    """The second time the service says 304, and the copy is as good as new."""
    changed = {
        "Last-Modified": http_date(NOW - dt.timedelta(hours=2)),
        "Cache-Control": "max-age=1",
    }
    url = once(httpserver, GOOD, headers=changed)
    later = NOW + dt.timedelta(hours=3)
    once(httpserver, b"", status=304, headers={"Date": http_date(later)})
    get(tmp_path, url)
    again = get(tmp_path, url, now=lambda: later)
    assert httpserver.log[1][0].headers["If-Modified-Since"] == changed["Last-Modified"]
    assert (again.data, again.fetched, again.stale) == (GOOD, later, False)
    kept = get(tmp_path, url, now=lambda: later + dt.timedelta(hours=9), offline=True)
    assert kept.age == dt.timedelta(hours=9)


@pytest.mark.parametrize("hours", [7, 44])
def test_a_long_word_of_the_service_is_not_believed(tmp_path, httpserver, hours):
    """It says that its answer serves for ten days; no forecast does."""
    url = answer(httpserver, headers={"Cache-Control": "max-age=864000"})
    get(tmp_path, url)
    assert get(tmp_path, url, now=lambda: NOW + dt.timedelta(hours=5)).kept
    assert not get(tmp_path, url, now=lambda: NOW + dt.timedelta(hours=hours)).kept
    assert len(httpserver.log) == 2


def test_the_map_of_a_service_may_bound_it_further(tmp_path, httpserver):
    url = answer(httpserver, headers={"Cache-Control": "max-age=864000"})
    get(tmp_path, url)
    later = {"now": lambda: NOW + dt.timedelta(minutes=61)}
    assert get(tmp_path, url, **later).kept
    assert not get(tmp_path, url, longest=60.0, **later).kept


def test_after_half_an_hour_a_service_is_asked_whether_it_changed(tmp_path, httpserver):
    """The clock may have fallen behind: only the service can tell."""
    headers = {"Cache-Control": "max-age=7200", "ETag": '"1"'}
    url = once(httpserver, GOOD, headers=headers)
    later = NOW + dt.timedelta(hours=9)  # so late it is by the service's clock
    once(httpserver, b"", status=304, headers={"Date": http_date(later)})
    get(tmp_path, url)
    assert get(tmp_path, url, now=lambda: NOW + dt.timedelta(minutes=29)).kept
    found = get(tmp_path, url, now=lambda: NOW + dt.timedelta(minutes=31))
    assert httpserver.log[1][0].headers["If-None-Match"] == '"1"'
    assert found.fetched == later
    assert [note.code for note in found.notes] == ["clock-off"]


def test_a_service_that_wants_no_question_before_its_time_gets_none(tmp_path, httpserver):
    url = answer(httpserver, headers={"Cache-Control": "max-age=7200", "ETag": '"1"'})
    for minutes in (0, 31, 119, 121):
        later = NOW + dt.timedelta(minutes=minutes)
        get(tmp_path, url, patient=True, now=lambda now=later: now)
    assert len(httpserver.log) == 2


@pytest.mark.parametrize("by", ["date", "change", "receipt"])
def test_a_clock_behind_the_dates_of_a_copy_is_no_judge_of_it(tmp_path, httpserver, by):
    """Ten minutes after its date by a clock that the copy shows to be wrong."""
    late = NOW + dt.timedelta(hours=3)
    headers = {"Cache-Control": "max-age=3600", "Date": http_date(NOW)}
    headers |= {"change": {"Last-Modified": http_date(late)}}.get(by, {})
    headers |= {"date": {"Date": http_date(late)}}.get(by, {})
    url = answer(httpserver, headers=headers)
    get(tmp_path, url, now=lambda: late if by == "receipt" else NOW)
    get(tmp_path, url, now=lambda: NOW + dt.timedelta(minutes=10))
    assert len(httpserver.log) == 2


def test_a_clock_that_is_always_behind_still_counts_the_hours(tmp_path, httpserver):
    """Three hours behind, three hours and ten minutes later the copy's date is past again."""
    behind = NOW - dt.timedelta(hours=3)
    url = once(httpserver, GOOD, headers={"Cache-Control": "max-age=3600"})
    get(tmp_path, url, now=lambda: behind)
    later = behind + dt.timedelta(hours=3, minutes=10)
    old = get(tmp_path, url, now=lambda: later, offline=True)
    assert (old.stale, old.age) == (True, dt.timedelta(hours=3, minutes=10))


def test_a_body_is_as_old_as_its_first_receipt(tmp_path, httpserver):
    """Neither "unchanged" nor the same bytes again make a forecast newer; other bytes do."""
    url = once(httpserver, GOOD, headers={"ETag": '"1"'})
    times = [NOW + dt.timedelta(hours=hours) for hours in (0, 14, 20, 26)]
    date = [{"Date": http_date(time)} for time in times]
    once(httpserver, b"", status=304, headers=date[1])
    once(httpserver, GOOD, headers=date[2])
    once(httpserver, b"[1]", headers=date[3])
    found = [get(tmp_path, url, now=lambda now=time: now) for time in times]
    assert [each.fetched for each in found] == times
    assert [each.first for each in found] == [NOW, NOW, NOW, times[3]]
    kept = get(tmp_path, url, now=lambda: times[3], offline=True)
    assert kept.first == times[3]


def test_what_a_service_writes_in_our_name_is_not_believed(tmp_path, httpserver):
    headers = {"ETag": '"1"', "Planner-First": "2020-01-01T00:00:00+00:00"}
    url = once(httpserver, GOOD, headers=headers)
    later = NOW + dt.timedelta(hours=2)
    once(httpserver, b"", status=304, headers=headers | {"Date": http_date(later)})
    for now in (NOW, later):
        assert get(tmp_path, url, now=lambda now=now: now).first == NOW


def test_a_copy_that_is_not_in_order_is_asked_for_anew(tmp_path, httpserver):
    """An earlier planner took it, this one does not: it is not given for the answer."""
    url = once(httpserver, b"no JSON", headers={"ETag": '"1"', "Cache-Control": "max-age=600"})
    once(httpserver, GOOD)
    get(tmp_path, url, anything)
    assert get(tmp_path, url).data == GOOD
    assert "If-None-Match" not in httpserver.log[1][0].headers


def same_place(url):
    """What an address asks apart from the days."""
    return url.partition("&days")[0]


def test_without_a_line_the_newest_copy_of_the_place_is_used_whatever_its_days(
    tmp_path, httpserver
):
    headers = {"Cache-Control": "max-age=0"}
    for query, body, hours in (("a&days=3", b"3", 0), ("a&days=9", b"9", 4), ("b", b"0", 5)):
        given = NOW + dt.timedelta(hours=hours)
        once(httpserver, body, headers=headers | {"Date": http_date(given)})
        url = httpserver.url_for(f"/w?{query}")
        get(tmp_path, url, now=lambda now=given: now, same=same_place)
    later = {"now": lambda: NOW + dt.timedelta(hours=6), "same": same_place}
    for days in (2, 3, 9):
        old = get(tmp_path, httpserver.url_for(f"/w?a&days={days}"), offline=True, **later)
        assert (old.data, old.stale, old.age) == (b"9", True, dt.timedelta(hours=2))
        assert [note.code for note in old.notes] == ["other-days"] * (days != 9)
    with pytest.raises(WeatherError, match="no copy"):
        get(tmp_path, httpserver.url_for("/w?c&days=3"), offline=True, **later)
    httpserver.stop()
    old = get(tmp_path, httpserver.url_for("/w?a&days=2"), **later)
    httpserver.start()
    assert (old.data, old.stale) == (b"9", True)
    assert "no line to" in old.why


def test_a_new_copy_for_other_days_is_not_called_old(tmp_path, httpserver):
    once(httpserver, GOOD, headers={"Cache-Control": "max-age=600"})
    get(tmp_path, httpserver.url_for("/w?a&days=3"))
    found = get(tmp_path, httpserver.url_for("/w?a&days=4"), offline=True, same=same_place)
    assert (found.kept, found.stale, found.why) == (True, False, "")
    assert [note.code for note in found.notes] == ["other-days"]


def test_an_answer_that_must_not_be_kept_is_not(tmp_path, httpserver):
    url = answer(httpserver, headers={"Cache-Control": "no-store"})
    get(tmp_path, url)
    with pytest.raises(WeatherError, match="no copy"):
        get(tmp_path, url, offline=True)


@pytest.mark.parametrize("says", ["max-age=0", "no-cache"])
def test_an_answer_for_now_only_is_kept_to_fall_back_on(tmp_path, httpserver, says):
    url = answer(httpserver, headers={"Cache-Control": says})
    get(tmp_path, url)
    get(tmp_path, url)
    assert len(httpserver.log) == 2
    found = get(tmp_path, url, offline=True)
    assert found.data == GOOD
    assert found.stale


def test_offline_opens_no_connection(tmp_path, httpserver, monkeypatch):
    url = answer(httpserver)
    get(tmp_path, url)

    def refuse(*_, **__):
        raise AssertionError("a connection was opened")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    old = get(tmp_path, url, offline=True, now=lambda: NOW + dt.timedelta(hours=5))
    assert (old.data, old.stale, old.age) == (GOOD, True, dt.timedelta(hours=5))
    assert "--offline" in old.why
    with pytest.raises(WeatherError, match="no copy of an earlier answer"):
        get(tmp_path, f"{url}?other", offline=True)


def test_a_stale_copy_serves_where_there_is_no_line(tmp_path, httpserver):
    url = answer(httpserver)
    get(tmp_path, url)
    httpserver.stop()
    old = get(tmp_path, url, now=lambda: NOW + dt.timedelta(hours=5, minutes=20))
    httpserver.start()
    assert (old.data, old.stale, old.kept) == (GOOD, True, True)
    assert old.age == dt.timedelta(hours=5, minutes=20)
    assert "no line to" in old.why


def test_a_copy_from_the_future_is_not_called_fresh(tmp_path, httpserver):
    """It was fetched before the clock of the computer fell back by a day."""
    url = answer(httpserver, headers={"Cache-Control": "max-age=600"})
    get(tmp_path, url)
    yesterday = NOW - dt.timedelta(days=1)
    get(tmp_path, url, now=lambda: yesterday)
    assert len(httpserver.log) == 2
    old = get(tmp_path, url, now=lambda: yesterday, offline=True)
    assert old.stale
    assert [note.code for note in old.notes] == ["copy-from-the-future"]
    assert "1 d after the clock" in old.notes[0].text


def test_the_copy_is_used_where_the_service_shows_the_clock_is_wrong(tmp_path, httpserver):
    """The service is out of order but says its time: the age of the copy goes by that."""
    url = once(httpserver, GOOD)
    for _ in range(3):
        once(
            httpserver,
            b"",
            status=503,
            headers={"Date": http_date(NOW + dt.timedelta(hours=2))},
        )
    get(tmp_path, url)
    old = get(tmp_path, url, now=lambda: NOW + dt.timedelta(hours=50))
    assert old.age == dt.timedelta(hours=2)
    assert [note.code for note in old.notes] == ["clock-off"]
