"""Film and bow temperature: the energy balance, its signs, and worked values.

No temperature of film on an open frame has been published with its weather; the table of
``film_published.csv`` holds working values from a separate calculation, and says so.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.film import temperature
from planner.film.temperature import bow_temperature, film_temperature, film_temperature_error
from planner.reference.tables import value

SIGMA = 5.670374419e-8  # W/m2/K4
HUNDREDTH_KELVIN = 0.01
SINGLE_PRECISION = 5e-4  # K
KINDS = ("clear", "diffusing", "infrared")
PLACES = ("bows", "ground", "closed house")
FRAMES = ("steel", "aluminium", "wood", "pvc")
DAY = {"temp_air": 30.0, "ghi": 950.0, "sky_longwave": 409.0}  # Swinbank's sky at 30 degC
NIGHT = {"temp_air": 10.0, "ghi": 0.0, "sky_longwave": 271.0}  # Swinbank's sky at 10 degC

airs = st.floats(-30.0, 45.0)
winds = st.floats(0.0, 15.0)
suns = st.floats(0.0, 1100.0)
skies = st.floats(0.5, 1.0)  # of what a black sky at air temperature would send


def black(celsius):
    """Long-wave radiation of a black surface [W/m2]."""
    return SIGMA * (celsius + 273.15) ** 4


def rows(*names):
    """Rows of the table of checks, by their first column."""
    file = Path(__file__).parents[1] / "published" / "film_published.csv"
    with file.open(encoding="utf-8") as lines:
        found = [row for row in csv.reader(lines) if row[0] in names]
    assert found
    return [pytest.param(row, id=" ".join(row[:3])) for row in found]


def inputs(text):
    """Turn ``a=1;b=2`` into numbers by name."""
    return {key: float(number) for key, number in (x.split("=") for x in text.split(";"))}


@pytest.mark.parametrize("row", rows("film", "film plate"))
def test_working_values_of_film(row):
    """Film over open bows in full sun and in a clear night, both winds' formulas."""
    at, weather = inputs(row[1]), DAY if "day" in row else NIGHT
    ours = film_temperature(
        **weather,
        wind=at["wind"],
        kind="infrared" if at["emissivity"] > 0.5 else "clear",
        convection="plate" if "plate" in row[0] else "house",
    )
    assert ours - weather["temp_air"] == pytest.approx(float(row[2]), abs=float(row[3]))


@pytest.mark.parametrize("row", rows("bow"))
def test_working_values_of_bow(row):
    """Galvanised pipe in full sun, new and dull."""
    ours = bow_temperature(**DAY, **inputs(row[1]))
    assert ours == pytest.approx(float(row[2]), abs=float(row[3]))


@pytest.mark.parametrize("row", rows("pipe"))
def test_published_pipe_example(row):
    """A textbook's worked example of wind across a pipe."""
    at = inputs(row[1])
    ours = temperature._pipe_nusselt(np.array(at["reynolds"]), at["prandtl"])
    assert ours == pytest.approx(float(row[2]), abs=float(row[3]))


def test_other_places():
    """Working values: a sheet on hot dry soil 15 K over still air, a closed house 41 degC."""
    sheet = film_temperature(32.0, 0.3, 950.0, 420.0, place="ground")
    house = film_temperature(30.0, 1.0, 950.0, 409.0, place="closed house", temp_below=45.0)
    assert sheet - 32.0 == pytest.approx(15.0, abs=2.0)
    assert house == pytest.approx(41.0, abs=1.5)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("kind", KINDS)
def test_no_sun_and_a_sky_at_air_temperature(kind, place):
    """Nothing to warm or cool it: film has the temperature of the air."""
    airs = np.linspace(-30.0, 45.0, 16)
    film = film_temperature(airs, 2.0, 0.0, black(airs), kind=kind, place=place)
    assert film == pytest.approx(airs, abs=SINGLE_PRECISION)


@pytest.mark.parametrize("frame", FRAMES)
def test_bow_without_sun(frame):
    """The same for a bow."""
    assert bow_temperature(12.0, 1.0, 0.0, black(12.0), frame=frame) == pytest.approx(12.0)


def balance(film, *, air, wind, sun, sky, below, kind, place):
    """What the film gains in sum, its own temperature given, written out in full [W/m2]."""
    row = {key: value("film", f"{kind}_{key}") for key in ROWS}
    gain = sun * (1 + value("film", "ground_reflectance") * row["solar_transmittance"])
    gain *= row["solar_absorptance"]
    gain += row["emissivity"] * (sky + black(below) - 2 * black(film))
    carried = 0.95 + 6.76 * max(wind, value("film", "least_wind")) ** 0.49
    if place == "bows":
        return gain - 2 * carried * (film - air)
    gap = "sheet_gap_conductance" if place == "ground" else "inside_convection"
    return gain - carried * (film - air) - value("film", gap) * (film - below)


ROWS = ("solar_absorptance", "solar_transmittance", "emissivity")


@settings(deadline=None)  # the first case also imports scipy
@given(airs, winds, suns, skies, st.floats(-5.0, 25.0), *map(st.sampled_from, (KINDS, PLACES)))
def test_root_of_the_balance(air, wind, sun, sky, warmer, kind, place):
    """The two-step answer is the root that a bracketing search finds."""
    from scipy.optimize import brentq

    sky, below = sky * black(air), air + warmer
    exact = brentq(
        lambda film: balance(
            film, air=air, wind=wind, sun=sun, sky=sky, below=below, kind=kind, place=place
        ),
        air - 80,
        air + 80,
    )
    ours = film_temperature(air, wind, sun, sky, kind=kind, place=place, temp_below=below)
    assert ours == pytest.approx(exact, abs=2 * HUNDREDTH_KELVIN)


@given(airs, winds, skies, st.sampled_from(KINDS), st.sampled_from(PLACES))
def test_more_sun_is_warmer(air, wind, sky, kind, place):
    """Film warms with every step of sun."""
    suns = np.linspace(0.0, 1100.0, 12)
    film = film_temperature(air, wind, suns, sky * black(air), kind=kind, place=place)
    assert np.all(np.diff(film) > 0.0)


@given(airs, suns, skies, st.sampled_from(KINDS))
def test_wind_brings_it_to_the_air(air, sun, sky, kind):
    """Over the bows more wind never takes the film further from the air."""
    winds = np.linspace(0.0, 15.0, 16)
    film = film_temperature(air, winds, sun, sky * black(air), kind=kind)
    away = np.abs(film - air)
    assert np.all(np.diff(away) <= SINGLE_PRECISION)


@given(airs, winds, st.floats(0.5, 0.97))
def test_clear_nights_are_below_air(air, wind, sky):
    """Under a cold sky film is colder than air, the darker to long wave the more.

    Savage (1980) and Sugiyama (1967) found plain tunnels colder inside than out on clear
    nights; dew makes film nearly opaque (Savage).
    """
    fall = [
        film_temperature(air, wind, 0.0, sky * black(air), **film) - air
        for film in ({"wet": True}, {"kind": "infrared"}, {"kind": "clear"})
    ]
    assert fall == sorted(fall)
    assert fall[-1] < 0.0


@given(airs, winds, st.floats(0.0, 30.0))
def test_warm_inside_warms_the_cover(air, wind, warmer):
    """A closed house's film lies between the air outside and inside without sun.

    So did the glass cover of Taki (2016): 13 outside, 29.6 cover, 32.9 inside.
    """
    film = film_temperature(
        air, wind, 0.0, black(air), place="closed house", temp_below=air + warmer
    )
    assert -SINGLE_PRECISION <= film - air <= warmer + SINGLE_PRECISION


@given(airs, winds, suns, skies, st.sampled_from(FRAMES))
def test_bow_follows_sun_and_wind(air, wind, sun, sky, frame):
    """Sun warms a bow; wind takes the warmth away; it is a root of its balance."""
    weather = {"ghi": sun, "sky_longwave": sky * black(air), "frame": frame}
    calm, windy = (bow_temperature(air, v, **weather) for v in (wind, wind + 2.0))
    assert abs(windy - air) <= abs(calm - air) + 1e-9
    more = bow_temperature(air, wind, sun + 100.0, sky * black(air), frame=frame)
    assert more > calm


def test_arrays_are_loops():
    """Members and hours at once give what one at a time gives, whatever is broadcast."""
    draw = np.random.default_rng(7)
    air, wind = draw.uniform(-5, 35, (3, 4)), draw.uniform(0, 8, (3, 4))
    sun, sky = draw.uniform(0, 900, (1, 4)), draw.uniform(250, 400, 4)
    wet = np.array([[True], [False], [True]])
    film = film_temperature(air, wind, sun, sky, kind="infrared", wet=wet)
    assert film.shape == (3, 4)
    assert film.dtype == np.float64
    for m, h in np.ndindex(3, 4):
        one = film_temperature(
            air[m, h], wind[m, h], sun[0, h], sky[h], kind="infrared", wet=wet[m, 0]
        )
        assert np.ndim(one) == 0
        assert film[m, h] == pytest.approx(one, abs=SINGLE_PRECISION)


def test_large_arrays_are_cut_into_parts():
    """More hours than one part holds: the last is worked out like the first."""
    film = film_temperature(np.full(40_001, 20.0), 2.0, 500.0, 330.0)
    assert film.min() == film.max()


def test_missing_stays_missing():
    """NaN in any input is NaN out, and only there."""
    for place in PLACES:
        for at in range(4):
            given = [np.array([20.0, 20.0]) for _ in range(4)]
            given[at] = np.array([np.nan, 20.0])
            film = film_temperature(*given, place=place)
            assert np.isnan(film).tolist() == [True, False]
            assert np.isnan(bow_temperature(*given)).tolist() == [True, False]
    assert np.isnan(film_temperature_error(np.nan))


def test_inputs_are_left_alone():
    """Working in place never touches what the caller gave."""
    given = [np.array([20.0, 0.1], dtype=np.float32) for _ in range(4)]
    film_temperature(*given, temp_below=given[0], convection="plate")
    assert all(array.tolist() == given[0].tolist() for array in given)
    assert given[0][0] == 20.0


def test_error_by_day_and_night():
    """2.6 K is the root mean square error of a published film temperature model."""
    assert film_temperature_error([800.0, 0.0]).tolist() == [2.6, 2.0]


def test_worth_in_length():
    """Its day error moves the pull on 7.0 m by 3 to 5 mm, less than snug repeats to."""
    from planner.film.slack import pull_past_snug

    error = film_temperature_error(800.0)
    pulls = pull_past_snug(7.0, [20.0, 20.0 + error], stress_free=35.0)
    assert 3.0 < pulls[0] - pulls[1] < 5.0 < value("film", "snug_repeats")
