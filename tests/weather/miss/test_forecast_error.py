"""Error tables: written and read back, refused when broken, and used at a place and lead."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.errors import WeatherError
from planner.reference.tables import value
from planner.weather.miss.error_file import error_text, read_error, shipped_error
from planner.weather.miss.forecast_error import ForecastError, Quantity
from planner.weather.miss.members import make_members
from planner.weather.miss.predictors import PLACE_TERMS, Known, predictors
from tests.history.made_error import LATITUDE, LONGITUDE, made_error, made_weather, quantity

FOUR_FIGURES = 5.1e-4  # of the number, half a unit of the fourth figure of 1.000
numbers = st.floats(-1e6, 1e6).filter(lambda x: x == 0.0 or abs(x) > 1e-6)
above = st.floats(1e-3, 1e3)
words = st.text(st.characters(codec="utf-8", exclude_categories=["C"]), max_size=20)


def read_back(error: ForecastError, folder) -> ForecastError:
    file = folder / "table.toml"
    file.write_text(error_text(error), encoding="utf-8")
    return read_error(file)


def expect_same(found, wanted) -> None:
    """The same to four figures, whatever the nesting."""
    if isinstance(wanted, str | bool | int):
        assert found == wanted
    elif isinstance(wanted, float):
        assert found == pytest.approx(wanted, rel=FOUR_FIGURES)
    elif isinstance(wanted, dict):
        assert list(found) == list(wanted)
        for name in wanted:
            expect_same(found[name], wanted[name])
    else:
        assert len(found) == len(wanted)
        for one, other in zip(found, wanted, strict=True):
            expect_same(one, other)


@settings(max_examples=12, deadline=None)
@given(data=st.data())
def test_a_table_is_read_back_as_it_was_written(tmp_path_factory, data):
    """Any numbers, any words without control characters, quotes and backslashes included."""
    many = data.draw(st.integers(2, 6))
    row = st.tuples(*[numbers] * many)
    terms = st.dictionaries(st.sampled_from(["one", "gust", "rain_7h", "day_cos"]), row)

    def drawn() -> Quantity:
        return Quantity(
            where=data.draw(terms),
            spread=data.draw(terms),
            share=data.draw(st.floats(0.001, 1.0)),
            hours=data.draw(st.tuples(*[above] * many)),
            too_high=data.draw(row),
            typical=data.draw(st.tuples(*[above] * many)),
        )

    error = made_error(
        leads=tuple(float(x) for x in range(many)),
        name=data.draw(words),
        source=data.draw(words),
        cases=data.draw(st.integers(0, 10**9)),
        latitude=data.draw(st.floats(-90.0, 90.0)),
        longitude=data.draw(st.floats(-180.0, 180.0)),
        months=("2029-12", "2030-01"),
        neutral={name: data.draw(numbers) for name in ("rain_chance", "rain_chance_wet")},
        gust=drawn(),
        wind=drawn(),
        temp=drawn(),
        rain=drawn(),
    )
    folder = tmp_path_factory.getbasetemp()
    expect_same(dataclasses.asdict(read_back(error, folder)), dataclasses.asdict(error))


def test_the_shipped_table_survives_too(tmp_path):
    """It was written by the same hand: nothing is lost on a second round."""
    once = read_back(shipped_error(), tmp_path)
    assert once == shipped_error()
    assert error_text(once) == error_text(shipped_error())


def test_where_it_is_used_is_not_written(tmp_path):
    """A table used elsewhere is still the table of the place it was learned at."""
    away = made_error().at(-40.0, 170.0)
    assert away.away
    found = read_back(away, tmp_path)
    expect_same(dataclasses.asdict(found), dataclasses.asdict(made_error()))


GOOD = error_text(made_error())
BROKEN = {
    "not TOML": ("name =", "name"),
    "no leads": ("leads = [0, 8]\n", ""),
    "no gust table": ("[gust]", "[guts]"),
    "no share": ("share = 0.8\n", ""),
    "no hours": ("hours = [4, 4]\n", ""),
    "no place": ("latitude =", "lat ="),
    "no means": ("[neutral]", "[means]"),
    "no link": ("gust_with_wind =", "gust_and_wind ="),
    "leads out of order": ("leads = [0, 8]", "leads = [8, 0]"),
    "leads twice": ("leads = [0, 8]", "leads = [8, 8]"),
    "one lead": ("leads = [0, 8]", "leads = [0]"),
    "leads as a number": ("leads = [0, 8]", "leads = 8"),
    "a row too long": ("gust = [1, 1]", "gust = [1, 1, 1]"),
    "a row too short": ("too_high = [0, 0]", "too_high = [0]"),
    "a number for a row": ("gust = [1, 1]", "gust = 1"),
    "a word in a row": ("gust = [1, 1]", 'gust = [1, "one"]'),
    "NaN in a term": ("gust = [1, 1]", "gust = [1, nan]"),
    "NaN in a spread": ("[gust.spread]\none = [", "[gust.spread]\none = [nan, "),
    "infinite": ("typical = [0.5, 0.5]", "typical = [0.5, inf]"),
    "NaN in the hours": ("hours = [4, 4]", "hours = [nan, 4]"),
    "hours of nought": ("hours = [4, 4]", "hours = [4, 0]"),
    "a share above 1": ("share = 0.8", "share = 1.1"),
    "a share of NaN": ("share = 0.8", "share = nan"),
    "a share in words": ("share = 0.8", 'share = "most"'),
    "two numbers of rain": ("rain_amount = [0.5, 0.3, 0.4]", "rain_amount = [0.5, 0.3]"),
    "another truth": ('truth = "station"', 'truth = "satellite"'),
    "cases in words": ("cases = 1000", 'cases = "many"'),
}


def refused(tmp_path, text) -> WeatherError:
    file = tmp_path / "table.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(WeatherError) as caught:
        read_error(file)
    assert caught.value.file == str(file)
    assert "planner learn" in caught.value.fix
    assert str(file) in str(caught.value)
    assert len(caught.value.message) > 20
    return caught.value


@pytest.mark.parametrize(("old", "new"), BROKEN.values(), ids=BROKEN)
def test_a_broken_table_is_refused_with_the_file_and_a_way_out(tmp_path, old, new):
    """Exit code 3, the file named, what to do said; the table itself is read."""
    assert GOOD.count(old) >= 1
    error = refused(tmp_path, GOOD.replace(old, new, 1))
    assert error.exit_code == 3


#: Broken tables that a reader could take for whole ones.
HIDDEN = {
    "a lead of NaN": ("leads = [0, 8]", "leads = [nan, 8]"),
    "a link of NaN": ("gust_with_wind = 0.6", "gust_with_wind = nan"),
    "a link above 1": ("gust_with_wind = 0.6", "gust_with_wind = 1.2"),
    "a rest above 1": ("morning = 0.5", "morning = 1.5"),
    "rain of NaN": ("rain_amount = [0.5, 0.3, 0.4]", "rain_amount = [nan, 0.3, 0.4]"),
    "a mean of NaN": ("cloud = 0.5", "cloud = nan"),
    "no mean chance of rain": ("rain_chance = 0.1\n", ""),
    "a place of NaN": ("latitude = 44.02", "latitude = nan"),
    "errors of nought": ("typical = [0.5, 0.5]", "typical = [0.5, 0]"),
    "a number for means": ("[neutral]", "neutral = 3\n[other]"),
    "a term of no predictor": ("[gust.where]\ngust =", "[gust.where]\ngusts ="),
    "cases without end": ("cases = 1000", "cases = inf"),
}


@pytest.mark.parametrize(("old", "new"), HIDDEN.values(), ids=HIDDEN)
def test_a_table_that_would_break_later_is_refused_when_read(tmp_path, old, new):
    """Not half an hour later in the middle of a sum, nor never."""
    assert GOOD.count(old) >= 1
    refused(tmp_path, GOOD.replace(old, new, 1))


def test_a_file_that_is_not_there_or_not_text(tmp_path):
    """The same error, not Python's."""
    with pytest.raises(WeatherError, match="cannot be read"):
        read_error(tmp_path / "none.toml")
    file = tmp_path / "table.toml"
    file.write_bytes(b"name = \xff\xfe")
    with pytest.raises(WeatherError, match="not a TOML file"):
        read_error(file)


def test_a_missing_key_is_named(tmp_path):
    """In the message and as data."""
    error = refused(tmp_path, GOOD.replace("rain_amount =", "amount ="))
    assert "rain_amount" in error.message
    assert error.key == "rain_amount"


# Lead times ---------------------------------------------------------------------------

leads = st.lists(st.integers(0, 200), min_size=2, max_size=7, unique=True).map(
    lambda x: tuple(at / 10 for at in sorted(x))
)


@settings(deadline=None)
@given(leads=leads, ahead=st.lists(st.floats(0.0, 600.0), min_size=1, max_size=20))
def test_weights_of_the_lead_times(leads, ahead):
    """They add up to 1, none is negative, two neighbours at most have any, and the lead
    times so weighed are the lead itself, held at both ends.
    """
    weights = made_error(leads=leads).lead_weights(np.array(ahead))
    assert weights.shape == (len(leads), len(ahead))
    assert weights.sum(axis=0) == pytest.approx(np.ones(len(ahead)))
    assert (weights >= 0.0).all()
    for at, hour in enumerate(ahead):
        used = np.flatnonzero(weights[:, at])
        assert len(used) <= 2
        assert used[-1] - used[0] <= 1
        day = min(max(hour / 24.0, leads[0]), leads[-1])
        assert weights[:, at] @ leads == pytest.approx(day, abs=1e-9)


def test_terms_add_up_as_a_loop_does():
    """Numbers straight between the lead times, predictors times numbers, means for NaN."""
    table = made_error(leads=(0.0, 1.0, 3.0))
    terms = {"one": (1.0, 2.0, 6.0), "cloud": (0.5, 0.5, -0.5), "gust": (1.0, 0.0, 2.0)}
    cloud = np.array([0.0, math.nan, 1.0, math.nan])
    gust = np.array([2.0, 3.0, 4.0, math.nan])
    lead = np.array([0.0, 12.0, 48.0, 500.0])
    found = table.total(terms, {"one": np.ones(4), "cloud": cloud, "gust": gust}, lead)
    by_hand = [
        1.0 + 0.5 * 0.0 + 1.0 * 2.0,
        1.5 + 0.5 * 0.5 + 0.5 * 3.0,  # half a day: halfway; cloud counts as its mean 0.5
        4.0 + 0.0 * 1.0 + 1.0 * 4.0,  # two days: halfway from one to three
    ]
    assert found[:3] == pytest.approx(by_hand)
    assert math.isnan(found[3])  # a gust that is not said has no mean to stand for it


@settings(deadline=None)
@given(
    first=st.floats(0.2, 3.0),
    then=st.floats(0.2, 3.0),
    lead=st.floats(0.0, 8.0),
    later=st.floats(0.0, 8.0),
)
def test_what_is_still_open_is_the_difference_of_variances(first, then, lead, later):
    """Of a truth that is normal about both forecasts: the first's error is the later one's
    plus what the later one brings, and these two have nothing to do with each other.
    """
    error = made_error(gust=quantity({"gust": 1}, typical=(then, first)))
    far, near = (then + (first - then) * day / 8.0 for day in (lead, later))
    wanted = math.sqrt(far**2 - near**2) / near if far > near else 0.0
    assert error.still_open(lead, later) == pytest.approx(wanted, rel=1e-6, abs=1e-6)


def test_what_is_still_open_against_drawn_numbers():
    """A later forecast that knows part of the error: the spread of what it brings."""
    random = np.random.default_rng(4)
    brings, left = 0.6 * random.normal(size=100_000), 0.8 * random.normal(size=100_000)
    far, near = np.std(brings + left), np.std(left)
    error = made_error(gust=quantity({"gust": 1}, typical=(near, far)))
    assert error.still_open(8.0, 0.0) == pytest.approx(np.std(brings) / near, rel=0.02)
    assert error.still_open(0.0, 0.0) == 0.0
    assert error.still_open(0.0, 8.0) == 0.0


# Place --------------------------------------------------------------------------------


def great_circle(place, other) -> float:
    """Distance on a sphere of 6371 km [km]."""
    (a, b), (c, d) = (map(math.radians, x) for x in (place, other))
    cosine = math.sin(a) * math.sin(c) + math.cos(a) * math.cos(c) * math.cos(b - d)
    return 6371.0 * math.acos(min(cosine, 1.0))


@settings(deadline=None)
@given(
    latitude=st.floats(-75.0, 75.0),
    longitude=st.floats(-180.0, 180.0),
    north=st.floats(-0.8, 0.8),
    east=st.floats(-0.8, 0.8),
)
def test_near_is_a_distance_on_the_globe(latitude, longitude, north, east):
    """Against the great circle, 1 % about the bound left out; across the date line too."""
    error = made_error(latitude=latitude, longitude=longitude)
    other = longitude + east / math.cos(math.radians(latitude))
    place = (latitude + north, (other + 180.0) % 360.0 - 180.0)
    bound = value("planning", "error_place_km")
    distance = great_circle((latitude, longitude), place)
    if abs(distance - bound) > 0.01 * bound:
        assert error.near(*place) == (distance < bound)


@pytest.mark.parametrize(("mine", "other"), [(179.9, -179.9), (-179.9, 179.9), (180.0, -180.0)])
def test_the_date_line_is_no_distance(mine, other):
    """22 km at 5 degrees north, not 40,000."""
    error = made_error(latitude=5.0, longitude=mine)
    assert error.near(5.0, other)
    assert not error.near(5.0, other + math.copysign(1.0, mine))
    assert error.at(5.0, other) == error


def test_elsewhere_what_belongs_to_the_place_counts_as_its_mean():
    """Wind direction and season; a predictor of any place stays what it is."""
    terms = {"one": 1.0, "from_east": 2.0, "cloud": 4.0}
    error = made_error(gust=quantity(terms))
    here, away = error.at(LATITUDE, LONGITUDE), error.at(LATITUDE + 5.0, LONGITUDE)
    assert here == error
    assert away.away
    assert dataclasses.replace(away, away=False) == error
    found = {
        "one": np.ones(3),
        "from_east": np.array([-1.0, math.nan, 1.0]),
        "cloud": np.array([0.0, math.nan, 1.0]),
    }
    lead = np.zeros(3)
    assert here.total(here.gust.where, found, lead) == pytest.approx(
        [1 - 2 + 0, 1 + 2 * 0.25 + 4 * 0.5, 1 + 2 + 4]
    )
    assert away.total(away.gust.where, found, lead) == pytest.approx(
        [1 + 2 * 0.25 + 0, 1 + 2 * 0.25 + 4 * 0.5, 1 + 2 * 0.25 + 4]
    )


def test_elsewhere_turning_the_wind_changes_nothing():
    """Of the shipped table: every direction gives the same weathers, at home not."""
    home = shipped_error()
    away = home.at(LATITUDE, LONGITUDE)
    north, south = (
        made_weather(
            24, wind_gust=9.0, wind_speed=4.0, temp_air=12.0, temp_dew=8.0,
            precipitation=0.0, precipitation_probability=10.0, cloud_cover=40.0,
            wind_direction=direction,
        )
        for direction in (0.0, 180.0)
    )  # fmt: skip
    for error, same in ((away, True), (home, False)):
        drawn = [make_members(x, error, count=4).values["wind_gust"] for x in (north, south)]
        assert np.array_equal(*drawn) == same
    found = predictors(north, Known(), longitude=0.0)
    assert found.keys() >= PLACE_TERMS


def test_every_term_of_the_shipped_table_is_a_predictor():
    """One that is not known by name would count as nought without a word."""
    found = set(predictors(made_weather(2, wind_speed=1.0), Known(), longitude=0.0))
    error = shipped_error()
    for name in ("gust", "wind", "temp", "rain"):
        own: Quantity = getattr(error, name)
        assert set(own.where) <= found
        assert set(own.spread) <= found | {"where"}
    assert set(error.neutral) <= found | {"rain_chance_wet"}


def test_the_shipped_table_grows_less_sure_with_the_lead():
    """Of every quantity; and its correlations are correlations."""
    error = shipped_error()
    for name in ("gust", "wind", "temp", "rain"):
        typical = getattr(error, name).typical
        assert list(typical) == sorted(typical)
        assert typical[0] > 0.0
    assert 0.0 <= error.gust_with_wind < 1.0
    assert 0.0 <= error.morning <= 1.0
    assert error.still_open(3.0, 0.5) > error.still_open(1.0, 0.5) > 0.0
