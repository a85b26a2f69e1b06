"""Weather fetched from servers on this machine that answer in the services' layouts."""

import csv
import datetime as dt
import io
import tomllib

import numpy as np
import pandas as pd
import pytest

from planner.errors import UsageError, WeatherError
from planner.weather.file.text import Raw
from planner.weather.live.fetch import agent, fetch
from planner.weather.live.service import find_service
from planner.weather.read import read_weather
from tests.weather.live.made_line import (
    NOW,
    PLACE,
    airport_reports,
    http_date,
    met_norway,
    nws_grid,
    open_meteo_csv,
)

CONTACT = "grower@example.org"
PATHS = {
    "open-meteo": "/v1/forecast",
    "open-meteo-ensemble": "/v1/ensemble",
    "nws": "/points/44.02,-91.4",
    "met-norway": "/weatherapi/locationforecast/2.0/complete",
    "iem": "/cgi-bin/request/asos.py",
}


@pytest.fixture
def fetched(tmp_path, httpserver):
    """Fetch from the local server, with a still clock and a cache in the test's folder."""

    def does(service, **changed):
        options = {
            "base": httpserver.url_for("").rstrip("/"),
            "cache": tmp_path,
            "contact": CONTACT,
            "now": lambda: NOW,
            "pauses": (0.01,),
        }
        place = changed.pop("place", PLACE)
        return fetch(service, *place, **options | changed)

    return does


@pytest.fixture
def gives(httpserver):
    """Let the local server give a body for a service, for good or once."""

    def does(service, body, *, path=None, once=False, **more):
        expect = httpserver.expect_ordered_request if once else httpserver.expect_request
        headers = {"Date": http_date()} | more.pop("headers", {})
        expect(path or PATHS[service]).respond_with_data(body, headers=headers, **more)

    return does


def read_back(found):
    """The table as anyone reads the file that is written."""
    return read_weather(Raw(name="back.csv", data=found.csv.encode()))


def same(one, other):
    """Check that two tables say the same."""
    pd.testing.assert_index_equal(one.times, other.times, check_freq=False)
    assert one.origin == other.origin
    for name, origin in one.origin.items():
        if origin == "given":
            np.testing.assert_array_equal(one.values[name], other.values[name])
    for name in ("kind", "issued", "issued_from", "place", "credit", "gust_meaning", "members"):
        assert getattr(one, name) == getattr(other, name), name
    doubts = [{note.text for note in each.notes if note.doubt} for each in (one, other)]
    assert doubts[0] <= doubts[1]


def test_open_meteo_into_the_table_and_back(fetched, gives):
    """Gusts are of the hour before the label, winds the larger of the hour's two ends."""
    body = open_meteo_csv()
    gives("open-meteo", body)
    found = fetched("open-meteo")
    rows = list(csv.DictReader(io.StringIO(body.split("\n", 3)[3])))
    wind = [float(row["wind_speed_10m (m/s)"]) for row in rows]
    gust = [float(row["wind_gusts_10m (m/s)"]) for row in rows]
    at = found.weather.times.get_loc(pd.Timestamp("2026-05-07T06:00Z"))
    label = 31  # the row that ends the hour from 6 to 7 o'clock of the second day
    assert rows[label]["time"] == "2026-05-07T07:00"
    assert found.weather.values["wind_gust"][0, at] == gust[label]
    assert found.weather.values["wind_speed"][0, at] == max(wind[label - 1 : label + 1])
    assert (found.weather.kind, found.weather.gust_meaning) == ("forecast", "hour maximum")
    same(found.weather, read_back(found))


def test_the_time_of_fetching_stands_for_that_of_issue_and_says_so(fetched, gives):
    gives("open-meteo", open_meteo_csv())
    found = fetched("open-meteo")
    assert found.weather.issued == pd.Timestamp(NOW)
    codes = [note.code for note in found.weather.notes]
    assert "issued_fetched" in codes
    assert "issued_assumed" not in codes
    assert "place_unknown" not in codes
    told = tomllib.loads(found.source)
    assert (told["issued"], told["issued_from"]) == (NOW, "fetched")
    assert told["asked"] == list(found.asked)
    assert not told["stale"]
    assert "stale" not in found.csv
    assert found.weather.credit == "Weather data by Open-Meteo.com, CC BY 4.0"


def test_an_unchanged_forecast_keeps_its_time_of_issue(fetched, gives):
    """Fourteen hours later the service says 304: no newer forecast, so no newer time."""
    later = NOW + dt.timedelta(hours=14)
    gives("open-meteo", open_meteo_csv(), once=True, headers={"ETag": '"1"'})
    gives("open-meteo", "", once=True, status=304, headers={"Date": http_date(later)})
    fetched("open-meteo")
    found = fetched("open-meteo", now=lambda: later)
    assert not found.answer.stale
    assert found.weather.issued == read_back(found).issued == pd.Timestamp(NOW)
    assert "# fetched: 2026-05-07T01:30Z\n" in found.csv
    told = tomllib.loads(found.source)
    assert (told["issued"], told["fetched"]) == (NOW, later)


def test_the_file_says_that_its_issue_time_is_that_of_fetching(fetched, gives):
    gives("open-meteo", open_meteo_csv())
    found = fetched("open-meteo")
    assert found.weather.issued_from == "fetched"
    assert "# issued_from: fetched\n" in found.csv
    gives("met-norway", met_norway())
    assert "issued_from" not in fetched("met-norway").csv


@pytest.mark.parametrize(
    ("service", "words"),
    [
        ("open-meteo", "some hours older than the time of fetching"),
        ("open-meteo-ensemble", "real gusts can be larger"),
    ],
)
def test_what_is_to_be_doubted_of_a_service_goes_into_the_file(fetched, gives, service, words):
    members = range(1, 3) if service == "open-meteo-ensemble" else ()
    gives(service, open_meteo_csv(members=members))
    found = fetched(service)
    [note] = [note for note in found.weather.notes if note.code == "from_service"]
    assert note.doubt
    assert words in note.text
    assert f"# doubt: {note.text}\n" in found.csv


def test_every_doubt_at_fetching_goes_into_the_file(fetched, gives):
    """That the clock is wrong, for one, since ages are told by it."""
    gives("open-meteo", open_meteo_csv())
    found = fetched("open-meteo", now=lambda: NOW + dt.timedelta(hours=2))
    doubts = [note.text for note in found.weather.notes if note.doubt]
    lines = [line for line in found.csv.splitlines() if line.startswith("# doubt: ")]
    assert lines == [f"# doubt: {text}" for text in doubts]
    assert any("2 h ahead of the service's" in line for line in lines)
    same(found.weather, read_back(found))


def test_without_a_line_the_last_copy_is_used_after_midnight_and_for_other_days(
    fetched, gives, httpserver
):
    """The question to an airport names dates, the one to Open-Meteo how many days."""
    gives("iem", airport_reports())
    gives("open-meteo", open_meteo_csv())
    fetched("iem", station="KXYZ", days=2)
    fetched("open-meteo", days=10)
    asked = len(httpserver.log)
    after = {"offline": True, "now": lambda: NOW + dt.timedelta(hours=13)}
    for days in (None, 2, 5):
        old = fetched("iem", station="KXYZ", days=days, **after)
        assert (old.answer.stale, old.weather.kind) == (True, "observed")
        old = fetched("open-meteo", days=days, **after)
        assert (old.answer.age, old.weather.hours) == (dt.timedelta(hours=13), 240)
    with pytest.raises(WeatherError, match="no copy"):
        fetched("iem", station="KXYY", **after)
    near = (PLACE[0] + 0.00004, PLACE[1])  # the same to four decimals
    assert fetched("open-meteo", days=3, place=near, **after).answer.stale
    with pytest.raises(WeatherError, match="no copy"):
        fetched("open-meteo", days=3, place=(PLACE[0] + 0.0001, PLACE[1]), **after)
    assert len(httpserver.log) == asked


def test_only_rounded_coordinates_are_sent(tmp_path, httpserver, gives):
    gives("open-meteo", open_meteo_csv())
    base = httpserver.url_for("").rstrip("/")
    fetch("open-meteo", 44.0212345678, -91.4000049, base=base, cache=tmp_path, now=lambda: NOW)
    [(request, _)] = httpserver.log
    assert (request.args["latitude"], request.args["longitude"]) == ("44.0212", "-91.4")
    assert request.headers["User-Agent"].startswith("planner/")
    assert "(" not in request.headers["User-Agent"]


def test_an_ensemble_keeps_its_members(fetched, gives):
    gives("open-meteo-ensemble", open_meteo_csv(members=range(1, 31)))
    found = fetched("open-meteo-ensemble")
    assert (found.weather.kind, found.weather.members) == ("ensemble", 31)
    same(found.weather, read_back(found))
    assert "wind_gust_member31" in found.csv


def grid_at(httpserver, gives, **more):
    """Let the point name the address of its grid square."""
    address = httpserver.url_for("/gridpoints/XYZ/5,7")
    gives("nws", f'{{"properties": {{"forecastGridData": "{address}"}}}}')
    gives("nws", nws_grid(**more), path="/gridpoints/XYZ/5,7")
    return address


def test_the_weather_service_is_asked_twice(fetched, httpserver, gives):
    address = grid_at(httpserver, gives)
    found = fetched("nws")
    assert [request.path for request, _ in httpserver.log] == [
        PATHS["nws"],
        "/gridpoints/XYZ/5,7",
    ]
    assert found.asked == (httpserver.url_for(PATHS["nws"]), address)
    assert httpserver.log[1][0].headers["User-Agent"].endswith(f"({CONTACT})")
    assert found.weather.issued == pd.Timestamp("2026-05-06T09:12Z")
    assert found.weather.values["wind_gust"][0, 0] == 5.0  # 18 km/h
    same(found.weather, read_back(found))


def test_days_that_a_service_cannot_be_asked_for_are_cut_off(fetched, httpserver, gives):
    grid_at(httpserver, gives)
    assert fetched("nws").weather.hours == 60
    found = fetched("nws", days=1)
    assert found.weather.hours == 24
    assert read_back(found).hours == 24


def test_a_grid_square_at_another_host_is_not_asked_for(fetched, httpserver, gives):
    away = f"http://127.0.0.1:{httpserver.port}/gridpoints/XYZ/5,7"
    gives("nws", f'{{"properties": {{"forecastGridData": "{away}"}}}}')
    with pytest.raises(WeatherError, match="names another host"):
        fetched("nws")
    assert len(httpserver.log) == 1


@pytest.mark.parametrize("body", ['{"properties": {}}', "[]", '{"properties": null}'])
def test_a_place_without_a_grid_square_is_refused(fetched, gives, body):
    gives("nws", body)
    with pytest.raises(WeatherError, match="no forecast for this place"):
        fetched("nws")


def test_a_place_the_service_does_not_cover_is_said_in_its_words(fetched, gives):
    gives("nws", '{"title": "Data Unavailable For Requested Point"}', status=404)
    with pytest.raises(WeatherError, match="404: Data Unavailable For Requested Point"):
        fetched("nws")


def test_met_norway_is_told_whom_to_reach(fetched, httpserver, gives):
    gives("met-norway", met_norway())
    found = fetched("met-norway")
    assert httpserver.log[0][0].headers["User-Agent"].endswith(f" ({CONTACT})")
    assert found.weather.issued == pd.Timestamp("2026-05-06T10:41Z")
    assert found.weather.credit == "Data from MET Norway, CC BY 4.0"
    same(found.weather, read_back(found))


@pytest.mark.parametrize("service", ["nws", "met-norway"])
def test_services_that_ask_for_a_contact_are_not_asked_without(fetched, httpserver, service):
    with pytest.raises(UsageError, match="whom to reach") as error:
        fetched(service, contact=" ")
    assert "PLANNER_CONTACT" in error.value.fix
    assert not httpserver.log


@pytest.mark.parametrize("contact", ["a\r\nHost: x", "grower (me)", "å@example.org", "x" * 101])
def test_a_contact_that_cannot_be_sent_is_refused(contact):
    with pytest.raises(UsageError, match="cannot be sent"):
        agent(find_service("open-meteo"), contact)


def test_airport_reports_are_a_record(fetched, httpserver, gives):
    gives("iem", airport_reports())
    found = fetched("iem", station="KXYZ", days=2)
    weather = found.weather
    assert (weather.kind, weather.issued) == ("observed", None)
    assert weather.gust_meaning == "10-minute maximum"
    assert weather.place.latitude == 44.2
    assert np.nanmax(weather.values["wind_gust"]) == pytest.approx(20 * 1852 / 3600, abs=1e-3)
    assert np.isnan(weather.values["wind_gust"]).any()
    same(weather, read_back(found))
    sent = httpserver.log[0][0].full_path
    assert "44.02" not in sent
    assert "91.4" not in sent


def test_an_answer_for_another_place_is_refused_and_not_kept(fetched, gives):
    gives("open-meteo", open_meteo_csv(place=(44.02, 91.40)))
    with pytest.raises(WeatherError, match=r"for a place \d+ km from the one asked for"):
        fetched("open-meteo")
    with pytest.raises(WeatherError, match="no copy"):
        fetched("open-meteo", offline=True)


def test_places_on_both_sides_of_the_date_line_are_near(tmp_path, httpserver, gives):
    gives("open-meteo", open_meteo_csv(place=(-17.0, -179.99)))
    base = httpserver.url_for("").rstrip("/")
    found = fetch("open-meteo", -17.0, 179.99, base=base, cache=tmp_path, now=lambda: NOW)
    assert found.weather.hours > 200


@pytest.mark.parametrize(
    ("service", "body", "word"),
    [
        ("open-meteo", "<!DOCTYPE html><p>Please log in", "web page"),
        ("met-norway", "\ufeff  <html>Please log in", "web page"),
        ("met-norway", met_norway()[:-40], "not whole"),
        ("met-norway", '{"type": "Feature"}', "cannot be read"),
        ("open-meteo", "time,temperature_2m\n2026-05-06T00:00,3\n", "cannot be read"),
        ("open-meteo", "", "empty"),
    ],
)
def test_what_is_no_weather_is_refused_in_words_and_not_kept(
    fetched, gives, service, body, word
):
    gives(service, body.encode())
    with pytest.raises(WeatherError, match=word) as error:
        fetched(service)
    assert error.value.exit_code == 3
    assert service in error.value.file
    with pytest.raises(WeatherError, match="no copy"):
        fetched(service, offline=True)


def test_a_good_copy_outlives_an_answer_that_cannot_be_read(fetched, gives):
    """The layout changed overnight; yesterday's forecast is still worth something."""
    gives("open-meteo", open_meteo_csv(), once=True)
    gives("open-meteo", "time,temperature_2m (°C)\n2026-05-06T00:00,3\n", once=True)
    good = fetched("open-meteo")
    old = fetched("open-meteo", now=lambda: NOW + dt.timedelta(hours=9))
    assert old.answer.stale
    assert "cannot be read" in old.answer.why
    same(good.weather, old.weather)
    again = fetched("open-meteo", now=lambda: NOW + dt.timedelta(hours=9), offline=True)
    assert again.answer.age == dt.timedelta(hours=9)


def test_an_old_copy_says_so_in_the_table_the_file_and_beside_it(fetched, gives, httpserver):
    gives("open-meteo", open_meteo_csv(), once=True)
    for _ in range(2):
        gives("open-meteo", "", once=True, status=503)
    fetched("open-meteo")
    old = fetched("open-meteo", now=lambda: NOW + dt.timedelta(hours=5))
    [note] = [note for note in old.weather.notes if note.code == "stale"]
    assert note.doubt
    assert "out of order (503)" in note.text
    assert old.weather.issued == pd.Timestamp(NOW)
    assert "# fetched: 2026-05-06T11:30Z\n# stale: localhost is out of order (503)\n" in old.csv
    told = tomllib.loads(old.source)
    assert (told["stale"], told["fetched"]) == (True, NOW)
    assert told["why"] == "localhost is out of order (503)"


def test_a_forecast_that_ended_before_it_was_fetched_is_refused_and_not_kept(
    fetched, gives, httpserver
):
    gives("open-meteo", open_meteo_csv(hours=9))
    for _ in range(2):
        with pytest.raises(WeatherError, match=r"ends 2026-05-06 07:00 UTC, before it was m"):
            fetched("open-meteo")
    assert len(httpserver.log) == 2
    with pytest.raises(WeatherError, match="no copy"):
        fetched("open-meteo", offline=True)


def test_a_forecast_that_ended_does_not_push_a_good_copy_out(fetched, gives):
    gives("open-meteo", open_meteo_csv(), once=True)
    gives("open-meteo", open_meteo_csv(hours=9), once=True)
    good = fetched("open-meteo")
    old = fetched("open-meteo", now=lambda: NOW + dt.timedelta(hours=3))
    assert old.answer.stale
    assert "before it was made" in old.answer.why
    same(good.weather, old.weather)


def test_where_the_answer_names_no_place_the_one_asked_for_stands_in(
    fetched, httpserver, gives
):
    gives("nws", nowhere := nws_grid().replace('"geometry"', '"no_geometry"'), path="/there")
    assert "-91" not in nowhere.split("properties")[1]
    address = httpserver.url_for("/there")
    gives("nws", f'{{"properties": {{"forecastGridData": "{address}"}}}}')
    found = fetched("nws")
    assert (found.weather.place.latitude, found.weather.place.longitude) == PLACE
    assert "place_unknown" not in [note.code for note in found.weather.notes]
    same(found.weather, read_back(found))
