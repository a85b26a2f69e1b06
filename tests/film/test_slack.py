"""Growth of film against frame, pull, slack, and what slack looks like.

Sources stand in ``tests/published/film_published.csv``; "worked example" is a table made
separately before this code, repeated here by ``fine_integration.py``.
"""

from __future__ import annotations

import csv
import math
import runpy
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.errors import OutOfRange, UsageError
from planner.film.sag import (
    arc_lift_off,
    bay_sag,
    curtain_change,
    slack_allowed,
    slack_from_sag,
)
from planner.film.slack import (
    check_stress_free,
    free_strain,
    pull_class,
    pull_past_snug,
    slack_mm,
    within_table,
)
from planner.film.tension import quick_tension
from planner.reference.tables import value

HERE = Path(__file__)
FINE = runpy.run_path(str(HERE.with_name("fine_integration.py")))
MICROSTRAIN = 1e-6
MICROKELVIN = 1e-6
TENTH_MM = 0.1
WHOLE_MM = 1.0
SPAN, LENGTH, BAY, RADIUS = 7.0, 15.0, 1.22, 2.6  # of the worked example [m]
THICKNESS = 150e-6

film_temps = st.floats(-40.0, 60.0)
slacks = st.floats(1.0, 300.0)


def rows(file, *names):
    """Rows of a table of checks, by their first column."""
    with (HERE.parents[1] / "published" / file).open(encoding="utf-8") as lines:
        found = [row for row in csv.reader(lines) if row[0] in names]
    assert found
    return [pytest.param(row, id=" ".join(row[:3])) for row in found]


def inputs(text):
    """Turn ``a=1;b=2`` into numbers by name."""
    return {key: float(number) for key, number in (x.split("=") for x in text.split(";"))}


def worked(what, film, other):
    """Give what the worked example asks for, by our functions."""
    strain = free_strain(film, other)
    across = SPAN * 1000 * strain
    return {
        "strain": lambda: 100 * strain,
        "over bows": lambda: across,
        "end to end": lambda: curtain_change(LENGTH, film, other),
        "bay sag": lambda: bay_sag(BAY, BAY * 1000 * strain),
        "lift": lambda: arc_lift_off(SPAN, RADIUS, across),
        "chart": lambda: pull_past_snug(SPAN, film, stress_free=other),
        "hand": lambda: quick_tension(strain, film, thickness=THICKNESS, hours=1 / 60),
    }[what]()


@pytest.mark.parametrize(
    "row",
    rows(
        "film_worked_table.csv",
        *("strain", "over bows", "end to end", "bay sag", "lift", "gap", "chart", "hand"),
    ),
)
def test_worked_example(row):
    """Every entry of the worked example and its setting chart comes out as written."""
    what, film, other, expected, tolerance = row[0], *map(float, row[1:5])
    assert worked(what, film, other) == pytest.approx(expected, abs=tolerance)


@given(film_temps, film_temps)
def test_growth_is_the_integral(start, end):
    """The closed form agrees with trapezoids over the same table."""
    fine = FINE["mismatch"](start, end)
    assert free_strain(start, end) == pytest.approx(fine, abs=MICROSTRAIN)


@pytest.mark.parametrize(
    "row", rows("film_published.csv", "slack of LDPE sheet", "expansion of LDPE")
)
def test_growth_lies_in_published_spans(row):
    """dL = alpha L dT with the published alphas brackets ours."""
    what, at = row[0], inputs(row[1])
    steel = value("frame", "expansion_steel")
    if what == "expansion of LDPE":
        ours = (free_strain(at["at"] - 1, at["at"] + 1) / 2 + steel) * 1e6
    else:
        bare = free_strain(0.0, at["rise"]) + steel * at["rise"]
        ours = bare * at["length"] * 1000
    assert ours == pytest.approx(float(row[2]), abs=float(row[3]))


@given(film_temps)
def test_no_change_no_strain(temp):
    """Film at its stress-free temperature needs neither pull nor slack."""
    assert free_strain(temp, temp) == 0.0
    assert pull_past_snug(9.0, temp, stress_free=temp) == 0.0


def test_film_and_frame_alike():
    """A frame that grows as much as the film leaves no mismatch.

    Film grows 202.5e-6 x 20 K from 20 to 40 degC by the table's straight line.
    """
    warmer = 202.5e-6 * 20.0 / value("frame", "expansion_pvc")
    strain = free_strain(20.0, 40.0, frame="pvc", frame_from=0.0, frame_to=warmer)
    assert strain == pytest.approx(0.0, abs=1e-12)


@given(film_temps, film_temps)
def test_there_and_back(start, end):
    """Growth one way is shrinking the other way."""
    assert free_strain(start, end) == pytest.approx(-free_strain(end, start), abs=1e-12)


@given(st.floats(-40.0, 58.0))
def test_frames_stand_in_order(temp):
    """Wood moves least, so film over it moves most; over PVC least."""
    moves = [
        free_strain(temp, temp + 2, frame=frame)
        for frame in ("wood", "steel", "aluminium", "pvc")
    ]
    assert moves == sorted(moves, reverse=True)
    assert moves[-1] > 0.0


@given(film_temps, st.floats(-20.0, 59.0))
def test_pull_and_slack_are_one(temp, stress_free):
    """Film colder than stress-free is pulled; warmer, it hangs slack by the same length."""
    pull = pull_past_snug(7.0, temp, stress_free=stress_free)
    slack = slack_mm(7.0, temp, stress_free=stress_free)
    assert slack == max(-pull, 0.0)
    if abs(temp - stress_free) > MICROKELVIN:
        assert math.copysign(1.0, pull) == math.copysign(1.0, stress_free - temp)


def test_a_hot_bow_adds_to_the_pull():
    """A frame that will cool by 20 K gives 12e-6 x 20 x 7000 = 1.7 mm."""
    even = pull_past_snug(7.0, 35.0, stress_free=35.0, frame_temp=35.0)
    hot = pull_past_snug(7.0, 35.0, stress_free=35.0, frame_temp=55.0)
    assert even == pytest.approx(0.0, abs=1e-9)
    assert hot == pytest.approx(1.68, abs=0.01)


def test_loose_in_sun_tight_by_night():
    """Common practice, no source: film a little loose in hot sun tightens by night."""
    slack = slack_mm(7.0, [50.0, 5.0], stress_free=value("film", "stress_free_single"))
    assert 0.0 < slack[0] < slack_allowed(7.0)
    assert slack[1] == 0.0


def test_arrays_are_loops():
    """Members and hours at once give what one at a time gives."""
    temps = np.array([[-12.0, 18.0, 59.0], [41.0, 0.0, 20.0]])
    spans = np.array([[7.0], [11.0]])
    together = pull_past_snug(spans, temps, stress_free=30.0, frame="wood")
    for (row, column), temp in np.ndenumerate(temps):
        one = pull_past_snug(spans[row, 0], temp, stress_free=30.0, frame="wood")
        assert together[row, column] == pytest.approx(one, abs=1e-9)


def test_large_arrays_are_cut_into_parts():
    """An array longer than one part is worked through to its end."""
    temps = np.linspace(-40.0, 60.0, 50_001)
    growth = free_strain(0.0, temps)
    assert growth[-1] == free_strain(0.0, 60.0)
    assert np.all(np.diff(growth) > 0.0)


def test_inputs_are_left_alone():
    """Working in place never touches what the caller gave."""
    temps = np.array([10.0, 20.0])
    slack_mm(7.0, temps, stress_free=5.0)
    free_strain(temps, temps)
    assert temps.tolist() == [10.0, 20.0]


@pytest.mark.parametrize("temp", [-40.1, 60.5, 90.0])
def test_range_is_stated(temp):
    """A film temperature outside the table is refused, and the range is named."""
    with pytest.raises(OutOfRange, match="between -40 and 60 C") as error:
        pull_past_snug(7.0, [20.0, temp], stress_free=35.0)
    assert error.value.value == temp


def test_forecast_hours_outside_are_no_data():
    """For hours of a forecast the same is NaN, and the others stand."""
    slack = slack_mm(7.0, [-50.0, 50.0], stress_free=35.0, beyond="nan")
    assert np.isnan(slack[0])
    assert slack[1] > 0.0
    assert np.isnan(within_table([np.nan, 80.0], "nan")).all()


@pytest.mark.parametrize(
    ("temp", "words"), [(80.0, "-40 and 60 C"), (70.0, "-40 and 60 C"), (-60.0, "-40 and 60")]
)
def test_stress_free_limit(temp, words):
    """Stress-free above the service limit or outside the table is refused."""
    with pytest.raises(OutOfRange, match=words):
        check_stress_free(temp)
    with pytest.raises(OutOfRange, match=words):
        pull_past_snug(7.0, 20.0, stress_free=temp)


@pytest.mark.parametrize("span", [0.0, -2.0])
def test_no_span_no_answer(span):
    """A span of nothing is refused."""
    with pytest.raises(UsageError, match="span of"):
        pull_past_snug([7.0, span], 20.0, stress_free=35.0)


def test_missing_stays_missing():
    """NaN in, NaN out, in every function."""
    nan = np.nan
    for answer in (
        free_strain(nan, 20.0),
        pull_past_snug(7.0, nan, stress_free=35.0),
        slack_mm(7.0, nan, stress_free=35.0),
        slack_allowed(nan),
        bay_sag(1.2, nan),
        slack_from_sag(1.2, nan),
        arc_lift_off(7.0, 2.6, nan),
        curtain_change(15.0, nan, 20.0),
    ):
        assert np.isnan(answer)


@pytest.mark.parametrize(
    ("pull", "name"),
    [(-38, "slack"), (-10, "slack"), (-9.9, "snug"), (0, "snug"), (9.9, "snug"), (15, "pull")],
)
def test_what_the_hand_does(pull, name):
    """Within what snug repeats to by hand (10 mm, practice) it is snug."""
    assert pull_class(float(pull)) == name


def test_no_number_no_class():
    """Without a number there is no word for the hand."""
    assert pull_class(math.nan) == "no-data"


@pytest.mark.parametrize("row", rows("film_published.csv", "sag", "slack from sag"))
def test_published_sag(row):
    """The published small-sag example, and its exact length."""
    at = inputs(row[1])
    ours = bay_sag(at["bay"], at["slack"]) if row[0] == "sag" else slack_from_sag(**at)
    assert ours == pytest.approx(float(row[2]), abs=float(row[3]))


@pytest.mark.parametrize("row", rows("film_published.csv", "change of sag"))
def test_handbook_change_of_sag(row):
    """Exact lengths give the handbook's change of sag for a cable that grows."""
    at = inputs(row[1])
    span, sag, longer = at["span"], at["sag"] * 1000, at["longer"]
    new = np.linspace(sag, sag + 60.0, 6001)
    grown = slack_from_sag(span, new) - slack_from_sag(span, sag)
    ours = np.interp(longer, grown, new) - sag
    assert ours == pytest.approx(float(row[2]), abs=float(row[3]))
    flat = bay_sag(span, 8 / 3 * (sag / 1000) ** 2 / span * 1000 + longer) - sag
    assert flat == pytest.approx(ours, rel=0.03)


@given(st.floats(0.5, 100.0), st.floats(0.001, 0.1))
def test_handbook_length(span, steep):
    """L = l (1 + 8/3 n2 - 32/5 n4 + 256/7 n6), the handbook's series, n = f / l."""
    series = 8 / 3 * steep**2 - 32 / 5 * steep**4 + 256 / 7 * steep**6
    exact = slack_from_sag(span, steep * span * 1000) / 1000 / span
    assert exact == pytest.approx(series, abs=3e-6)


def test_length_by_straight_pieces():
    """A parabola laid out in a million straight pieces has the length we say."""
    pieces = (FINE["parabola_length"](1.22, 0.0735) - 1.22) * 1000
    assert slack_from_sag(1.22, 73.5) == pytest.approx(pieces, abs=1e-6)


@given(st.floats(0.6, 3.0), st.floats(0.0, 0.02))
def test_sag_and_back(bay, strain):
    """The flat formula and the exact inverse agree within 2 % at film slack."""
    slack = bay * 1000 * strain
    assert slack_from_sag(bay, bay_sag(bay, slack)) == pytest.approx(slack, rel=0.02)


@given(st.floats(3.0, 20.0), st.floats(0.3, 0.9), slacks)
def test_lift_is_the_longer_arc(arc, share, slack):
    """The lift found by Newton's rule is the one found by halving."""
    radius = arc / (2 * math.pi * share)
    exact = FINE["lift"](arc, radius, slack)
    assert arc_lift_off(arc, radius, slack) == pytest.approx(exact, abs=TENTH_MM)


def test_lift_of_a_straight_rafter():
    """Over a straight edge the arc is flat, and the parabola's sag is close to it."""
    assert arc_lift_off(4.0, math.inf, 10.0) == pytest.approx(bay_sag(4.0, 10.0), abs=WHOLE_MM)
    assert arc_lift_off(4.0, math.inf, 0.0) == 0.0


def test_taut_film_neither_sags_nor_lifts():
    """No slack, no sag; a taut sheet is not a negative one."""
    for slack in (0.0, -20.0):
        assert bay_sag(1.2, slack) == 0.0
        assert arc_lift_off(7.0, 2.6, slack) == 0.0
    assert slack_from_sag(1.2, 0.0) == 0.0


def test_curtain_overlap():
    """Working values: 15 m of curtain from 25 to -20 degC shrink by 104 mm."""
    assert curtain_change(15.0, 25.0, -20.0) == pytest.approx(-104.0, abs=WHOLE_MM)
