"""Tension of locked film: the relaxing law, its limits, and the worked example.

``fine_integration.py`` repeats the worked example by brute force without the planner; the
figures it is checked against were made before either.
"""

from __future__ import annotations

import csv
import runpy
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from planner.errors import OutOfRange
from planner.film.slack import free_strain, slack_mm
from planner.film.tension import (
    end_hoop_load,
    quick_tension,
    share_of_yield,
    tension,
    tension_allowed,
    yield_stress,
)
from planner.reference.tables import row, value

HERE = Path(__file__)
FINE = runpy.run_path(str(HERE.with_name("fine_integration.py")))
THICKNESS = 150e-6  # m
ONE_NEWTON = 1.0  # N/m
NOTHING = 1e-9  # N/m
LAW = 0.003  # sum of exponentials against the power [-]
HOURLY = 0.01  # hourly steps against three-minute ones [-]
FINE_STEPS = 0.003  # quarter-hour steps against three-minute ones [-]
CORNERS = [14, 182, 206, 230]  # hours of the worked example
#: Worked before this code: model -> tension at the corners [N/m].
WORKED = {
    "then": [120, 98, 190, 182],
    "now": [168, 143, 262, 254],
    "vertical": [221, 158, 400, 382],
}

courses = arrays(float, 48, elements=st.floats(-35.0, 55.0))
stress_frees = st.floats(0.0, 55.0)


def example(hours=1.0):
    """The worked example by our functions: the band at its corners."""
    times = np.arange(0.0, 230.0 + hours / 2, hours)
    temps = np.interp(times, *FINE["CORNERS"])
    band = tension(temps, stress_free=55.0, thickness=THICKNESS, hours=hours)
    at = [round(corner / hours) for corner in CORNERS]
    return [part[at] for part in band]


def published(check):
    """Rows of the table of checks of that name."""
    file = HERE.parents[1] / "published" / "film_published.csv"
    with file.open(encoding="utf-8") as lines:
        found = [row for row in csv.reader(lines) if row[0] == check]
    assert found
    return [pytest.param(row, id=" ".join(row[:3])) for row in found]


@pytest.mark.parametrize("model", WORKED)
def test_brute_force_repeats_the_worked_example(model):
    """The independent script agrees with the figures worked before it."""
    assert FINE["tensions"](model) == pytest.approx(WORKED[model], rel=0.012)


@pytest.mark.parametrize(("hours", "near"), [(1.0, HOURLY), (0.25, FINE_STEPS)])
def test_band_against_brute_force(hours, near):
    """Low, middle and high of the example are the script's three models."""
    low, mid, high = example(hours)
    assert low == pytest.approx(FINE["tensions"]("then"), rel=near)
    assert mid == pytest.approx(FINE["tensions"]("now"), rel=near)
    both_ways = 1.0 - value("film", "poisson_ratio")
    assert high * both_ways == pytest.approx(FINE["tensions"]("vertical"), rel=near)


def test_both_directions_taut():
    """Worked: night 220 to 480 N/m and -20 degC 350 to 940 both ways; our high is inside."""
    _, _, high = example()
    assert 220 < high[0] < 480
    assert 350 < high[2] < 940
    assert 1 / (1 - value("film", "poisson_ratio")) == pytest.approx(1.82, abs=0.005)


def test_first_night_is_like_inflation():
    """Reading of the worked example: about the 162 N/m of 0.25 in w.c. at R 2.6 m."""
    _, mid, _ = example()
    assert mid[0] == pytest.approx(62.27 * 2.6, rel=0.1)


def test_nearly_indifferent_to_stress_free_in_the_cold():
    """Worked: -20 degC tension 182-212 / 194-241 / 199-265 N/m for 30, 40 and 50 degC.

    The courses behind them are not written down, so only their likeness is asked for:
    20 K more stress-free temperature changes the coldest night by less than a third.
    """
    cold = []
    for stress_free in (30.0, 50.0):
        temps = np.interp(np.arange(48.0), [0, 14, 38, 47], [stress_free, 5.0, -20.0, -20.0])
        cold.append(tension(temps, stress_free=stress_free, thickness=THICKNESS).mid[-1])
    assert 1.0 < cold[1] / cold[0] < 1.33


@pytest.mark.parametrize("exponent", [0.07, 0.10, 0.13])
@pytest.mark.parametrize("temp", [-20.0, 5.0, 23.0])
def test_constant_strain_relaxes_by_the_power(temp, exponent):
    """Held at one stretch the middle is E60 g (t / 60 s)^-n, from a minute to ten years.

    The pull is a minute old in the first hour.
    """
    for hours in (1.0, 24.0, 8766.0):
        count = 11
        band = tension(
            np.full(count, temp),
            stress_free=40.0,
            thickness=THICKNESS,
            hours=hours,
            exponent=exponent,
        )
        strain = free_strain(temp, 40.0)
        first = FINE["stiffness"](temp) * FINE["softened"](strain) * 150
        passed = 1 + np.arange(count) * hours * 60
        assert band.mid == pytest.approx(first * passed**-exponent, rel=LAW)


@given(courses, stress_frees)
def test_spring_when_the_exponent_is_nothing(temps, stress_free):
    """Without relaxing the middle is stiffness x softened strain of the hour, or nothing."""
    band = tension(temps, stress_free=stress_free, thickness=THICKNESS, exponent=0.0)
    strain = np.maximum(free_strain(temps, stress_free), 0.0)
    spring = FINE["stiffness"](temps) * FINE["softened"](strain) * 150
    assert band.mid == pytest.approx(spring, abs=1e-6)


@given(courses, stress_frees)
def test_film_never_pushes(temps, stress_free):
    """Tension is never negative, nothing where the sheet is slack, and in order."""
    low, mid, high = tension(temps, stress_free=stress_free, thickness=THICKNESS)
    slack = slack_mm(7.0, temps, stress_free=stress_free) > 0.0
    assert low.min() >= 0.0
    assert np.all(high[slack] < NOTHING)
    assert np.all((low <= mid) & (mid <= high))


def test_relaxed_film_is_slack_early():
    """Hot, a week cool, hot: slack before the film is back at its stress-free warmth.

    Then it creeps back and takes up what is left of the load.
    """
    times = np.arange(0.0, 200.1, 0.25)
    temps = np.interp(times, [0, 10, 190, 191, 200], [40.0, 15.0, 15.0, 38.0, 38.0])
    mid = tension(temps, stress_free=40.0, thickness=THICKNESS, hours=0.25).mid
    early = (times > 191.0) & (times < 195.0)
    assert free_strain(38.0, 40.0) > 0.0
    assert mid[760] > 50 * ONE_NEWTON
    assert np.all(mid[early] < NOTHING)
    assert mid[-1] > 0.5 * ONE_NEWTON


def test_slack_film_has_no_shorter_memory():
    """A cold night, an hour slack in the sun, then slack for days: no tension comes back."""
    temps = np.array([-6.0, 30.0, *[1.0] * 46])
    band = tension(temps, stress_free=0.0, thickness=THICKNESS)
    assert all(np.all(part[1:] < NOTHING) for part in band)


def test_used_film_pulls_no_harder_than_new():
    """After a cold day and an hour slack in the sun, no band passes that of a new sheet."""
    cold, warm = [-20.0] * 24, [30.0]
    used = tension(cold + warm + cold, stress_free=0.0, thickness=THICKNESS)
    new = tension(warm + cold, stress_free=0.0, thickness=THICKNESS)
    for old, fresh in zip(used, new, strict=True):
        assert np.all(old[24:] <= fresh * (1 + 1e-9))


def test_second_night_pulls_no_harder():
    """Two like nights with a like day between: the second is a little easier."""
    temps = np.interp(np.arange(73.0), [0, 12, 24, 36, 72], [35.0, 0.0, 35.0, 0.0, 0.0])
    mid = tension(temps, stress_free=35.0, thickness=THICKNESS).mid
    assert 0.7 * mid[12] < mid[36] <= mid[12]


@given(st.floats(-30.0, 20.0), st.floats(2.0, 15.0))
def test_colder_nights_pull_harder(night, colder):
    """A deeper fall in the same time gives more tension in all three."""
    bands = []
    for end in (night, night - min(colder, night + 39.0)):
        temps = np.linspace(35.0, end, 13)
        bands.append([part[-1] for part in tension(temps, stress_free=35.0, thickness=1e-4)])
    assert np.all(np.array(bands[1]) > np.array(bands[0]))


@given(courses)
def test_thickness_is_a_factor(temps):
    """Twice the film, twice the tension."""
    one, two = (tension(temps, stress_free=35.0, thickness=h).mid for h in (1e-4, 2e-4))
    assert two == pytest.approx(2 * one)


def test_members_do_not_touch_each_other():
    """Members at once give what one at a time gives, over the edge of a part."""
    draw = np.random.default_rng(3)
    temps = 12 + draw.normal(0, 8, (400, 60))
    together = tension(temps, stress_free=30.0, thickness=THICKNESS)
    for member in (0, 1, 399):
        alone = tension(temps[member], stress_free=30.0, thickness=THICKNESS)
        for part, one in zip(together, alone, strict=True):
            assert part[member] == pytest.approx(one, rel=1e-9, abs=1e-9)


def test_a_missing_hour_is_missing_and_bridged():
    """NaN in, NaN out; the hours after it are as if the temperature had stood still."""
    temps = np.array([30.0, 20.0, np.nan, 10.0, 5.0])
    still = np.array([30.0, 20.0, 20.0, 10.0, 5.0])
    gap, whole = (tension(t, stress_free=30.0, thickness=1e-4).mid for t in (temps, still))
    assert np.isnan(gap).tolist() == [False, False, True, False, False]
    assert gap[3:].tolist() == whole[3:].tolist()
    assert np.isnan(tension([np.nan, 5.0], stress_free=30.0, thickness=1e-4).mid).all()


def test_range_is_stated():
    """Film temperatures outside the table are refused, or no data when asked so."""
    with pytest.raises(OutOfRange, match="between -40 and 60 C"):
        tension([20.0, 65.0], stress_free=35.0, thickness=1e-4)
    with pytest.raises(OutOfRange, match="stress-free film temperature"):
        tension([20.0, 15.0], stress_free=90.0, thickness=1e-4)
    band = tension([20.0, 65.0], stress_free=35.0, thickness=1e-4, beyond="nan")
    assert np.isnan(band.high).tolist() == [False, True]


def test_memory_is_in_proportion():
    """500 members over ten days take some copies of the array, not one per decay term."""
    temps = np.full((500, 240), 10.0)
    tension(temps[:2], stress_free=35.0, thickness=1e-4)
    tracemalloc.start()
    tension(temps, stress_free=35.0, thickness=1e-4)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 40 * temps.nbytes  # the terms alone would take 78


def test_quick_answer_is_near():
    """The closed form lies inside the band of the first night it stands for."""
    low, mid, high = (part[0] for part in example())
    quick = quick_tension(free_strain(5.0, 55.0), 5.0, thickness=THICKNESS)
    assert quick == pytest.approx(222.0, abs=2.0)  # worked, median of a Monte Carlo
    assert low < mid < quick < high


def test_naive_stiffness():
    """Worked: without relaxing or softening 475 N/m at 5 degC and 1191 at -20."""
    for temp, expected in ((5.0, 475.0), (-20.0, 1191.0)):
        strain = free_strain(temp, 55.0)
        bare = quick_tension(strain, temp, thickness=THICKNESS, hours=1 / 60)
        naive = bare * (1 + strain / value("film", "softening_strain"))
        assert naive == pytest.approx(expected, abs=ONE_NEWTON)


@pytest.mark.parametrize("check", published("balloon"))
def test_balloon_film(check):
    """A published stress and strain pair of LLDPE film, its time unseen."""
    at = dict(part.split("=") for part in check[1].split(";"))
    strain, minutes = float(at["strain"]), float(at["minutes"])
    stress = quick_tension(strain, 23.0, thickness=1e-6, hours=minutes / 60)  # N/m of 1 um
    assert stress / strain == pytest.approx(float(check[2]), abs=float(check[3]))


@pytest.mark.parametrize(
    "check", [*published("stiffness of LDPE"), *published("stiffness of greenhouse film")]
)
def test_published_stiffness(check):
    """The stiffness at 23 degC lies in the published spans."""
    assert value("film", "modulus_at_23") == pytest.approx(float(check[2]), abs=float(check[3]))


def test_yield_load_of_the_example():
    """Worked: 1904 N/m at 5, 2700 at -20 and 844 at 55 degC for 0.15 mm."""
    load = yield_stress([5.0, -20.0, 55.0]) * THICKNESS
    assert load == pytest.approx([1904.0, 2700.0, 844.0], abs=ONE_NEWTON)
    assert share_of_yield(168.0, 5.0, thickness=THICKNESS) == pytest.approx(0.09, abs=0.005)
    assert share_of_yield(262.0, -20.0, thickness=THICKNESS) == pytest.approx(0.10, abs=0.005)


def test_what_may_be_left():
    """The channel's own figure governs where it is known and lower; hot film where not."""
    allowed = tension_allowed([-20.0, 55.0], thickness=THICKNESS, channel_holds=400.0)
    assert allowed[0] == 400.0
    assert allowed[1] == pytest.approx(0.35 * 844, abs=ONE_NEWTON)
    assert tension_allowed(-20.0, thickness=THICKNESS) == row("film", "tension_allowed").value


def test_end_bows():
    """Worked: 190 to 940 N/m pull 1.3 to 6.6 kN on 7 m of arc."""
    assert end_hoop_load([190.0, 940.0], 7.0) == pytest.approx([1330.0, 6580.0])


def test_small_answers_missing_stay_missing():
    """NaN in, NaN out."""
    nan = np.nan
    for answer in (
        quick_tension(nan, 5.0, thickness=1e-4),
        quick_tension(0.01, nan, thickness=1e-4),
        yield_stress(nan),
        share_of_yield(nan, 5.0, thickness=1e-4),
        tension_allowed(nan, thickness=1e-4),
        end_hoop_load(nan, 7.0),
    ):
        assert np.isnan(answer)


def test_slack_film_does_not_pull():
    """The quick answer for a strain below zero is nothing."""
    assert quick_tension(-0.01, 20.0, thickness=1e-4) == 0.0
