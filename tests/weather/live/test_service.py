"""The addresses that services are asked at, against what their documentation says."""

import datetime as dt
from urllib.parse import parse_qs, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.errors import UsageError
from planner.weather.formats.maps import formats
from planner.weather.live.service import (
    Wanted,
    address,
    apart_from_days,
    find_service,
    rounded,
    services,
)

TODAY = dt.date(2026, 5, 6)


def wanted(**changed):
    place = {"latitude": 44.0212345, "longitude": -91.4, "today": TODAY}
    return Wanted(**place | changed)


def asked(name, **changed):
    """Host, path and query of an address."""
    parts = urlsplit(address(find_service(name), wanted(**changed)))
    assert parts.scheme == "https"
    return parts.hostname, parts.path, parse_qs(parts.query)


def test_open_meteo_is_asked_for_hours_in_our_units():
    """open-meteo.com/en/docs: host, path, names of variables; UTC; metres a second."""
    host, path, query = asked("open-meteo")
    assert (host, path) == ("api.open-meteo.com", "/v1/forecast")
    assert query["latitude"] == ["44.0212"]
    assert query["longitude"] == ["-91.4"]
    assert query["wind_speed_unit"] == ["ms"]
    assert query["timezone"] == ["GMT"]
    assert query["forecast_days"] == ["10"]
    assert query["format"] == ["csv"]
    assert asked("open-meteo", days=16)[2]["forecast_days"] == ["16"]


def test_the_ensemble_has_members_and_no_chance_of_rain():
    host, path, query = asked("open-meteo-ensemble")
    assert (host, path) == ("ensemble-api.open-meteo.com", "/v1/ensemble")
    assert query["models"] == ["gfs_seamless"]
    assert "precipitation_probability" not in query["hourly"][0]


@pytest.mark.parametrize("name", ["open-meteo", "open-meteo-ensemble"])
def test_every_variable_asked_for_is_one_the_reader_knows(name):
    known = {column.name for column in formats()["openmeteo"].columns}
    variables = asked(name)[2]["hourly"][0].split(",")
    assert set(variables) <= known
    assert len(set(variables)) == len(variables)


def test_the_weather_service_is_asked_for_a_point():
    """A coordinate with zeros at its end is only sent on to the shorter address."""
    host, path, query = asked("nws", latitude=44.0200001)
    assert (host, path, query) == ("api.weather.gov", "/points/44.02,-91.4", {})


def test_met_norway_gets_four_decimals_at_most():
    """More are refused (api.met.no, terms of service: 403)."""
    host, path, query = asked("met-norway")
    assert (host, path) == ("api.met.no", "/weatherapi/locationforecast/2.0/complete")
    assert query == {"lat": ["44.0212"], "lon": ["-91.4"]}


def test_airport_reports_are_asked_for_by_station_and_dates_alone():
    """The last day of the question is not in the answer, so it is tomorrow."""
    host, path, query = asked("iem", station="kxyz", days=3)
    assert (host, path) == ("mesonet.agron.iastate.edu", "/cgi-bin/request/asos.py")
    assert query["station"] == ["KXYZ"]
    days = [query[key][0] for key in ("year1", "month1", "day1", "year2", "month2", "day2")]
    assert days == ["2026", "05", "03", "2026", "05", "07"]
    assert query["tz"] == ["Etc/UTC"]
    assert not {"44.0212", "-91.4"} & {each for values in query.values() for each in values}


@pytest.mark.parametrize(
    ("name", "changed", "key"),
    [
        ("open-meteo", {"days": 17}, "--days"),
        ("open-meteo", {"days": 0}, "--days"),
        ("iem", {}, "--station"),
        ("nws", {"station": "KXYZ"}, "--station"),
        ("iem", {"station": "K&x=1"}, "--station"),
    ],
)
def test_what_cannot_be_asked_is_refused(name, changed, key):
    with pytest.raises(UsageError) as error:
        asked(name, **changed)
    assert error.value.key == key
    assert error.value.fix


def test_a_service_that_is_not_there_names_the_nearest():
    with pytest.raises(UsageError, match="no service") as error:
        find_service("openmeteo")
    assert "open-meteo" in error.value.fix
    with pytest.raises(UsageError) as error:
        find_service("xyzzy")
    assert all(name in error.value.fix for name in services())


@pytest.mark.parametrize("base", ["", "ftp://host", "host:80", "https://", "http://h/?x=1"])
def test_an_address_that_is_none_is_refused(base):
    if base:
        with pytest.raises(UsageError, match="not the address"):
            address(find_service("open-meteo"), wanted(), base=base)
    else:
        assert address(find_service("nws"), wanted(), base=base).startswith("https://api.w")


def test_another_address_takes_the_place_of_the_usual_one():
    found = address(find_service("nws"), wanted(), base="http://127.0.0.1:8000/")
    assert found == "http://127.0.0.1:8000/points/44.0212,-91.4"


def test_each_map_says_what_it_must():
    """Credit, licence, a known format, four decimals; those that ask for a contact get one."""
    assert {"open-meteo", "open-meteo-ensemble", "nws", "met-norway", "iem"} <= set(services())
    for each in services().values():
        assert each.format in formats()
        assert each.credit
        assert each.license
        assert each.decimals <= 4
        assert each.base.startswith("https://")
        assert each.days <= each.most_days
    assert {each.name for each in services().values() if each.contact} == {"nws", "met-norway"}


@pytest.mark.parametrize("name", sorted(services()))
def test_questions_that_differ_in_the_days_only_are_alike(name):
    service = find_service(name)
    about = {"station": "KXYZ"} if service.station else {}

    def apart(**changed):
        return apart_from_days(service, address(service, wanted(**about | changed)))

    assert apart() == apart(days=3) == apart(days=1, today=TODAY + dt.timedelta(days=400))
    other = {"station": "KXYY"} if service.station else {"latitude": 44.0214}
    assert apart(**other) != apart()
    there = address(service, wanted(**about), base="http://127.0.0.1:8000")
    assert apart_from_days(service, there) != apart()


def test_no_map_lets_an_answer_serve_longer_than_six_hours():
    for each in services().values():
        assert 0 < each.fresh <= each.longest <= 360
    assert [each.name for each in services().values() if each.patient] == ["met-norway"]


def test_what_is_carried_over_or_undated_is_doubted():
    for each in services().values():
        assert bool(each.doubt) == (each.issued == "fetched")
        assert "\n" not in each.doubt


@given(st.floats(-180, 180), st.integers(0, 4))
def test_a_rounded_coordinate_is_near_and_short(degrees, decimals):
    text = rounded(degrees, decimals)
    assert abs(float(text) - degrees) <= 0.5000001 * 10**-decimals
    whole, point, rest = text.partition(".")
    assert len(rest) <= decimals
    assert not point or not rest.endswith("0")
    assert bool(point) == bool(rest)
    assert whole != "-0" or rest
