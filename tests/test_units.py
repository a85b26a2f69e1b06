"""Units are read by the dimension that is expected."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.errors import UnitError
from planner.units import DIMENSIONS, SHOWN, convert, parse, show

UREG = pint.UnitRegistry()

#: (text, dimension, value for pint, pint's unit): pint is a general units library.
AGAINST_PINT = [
    ("30 ft", "length", 30, "foot", "meter"),
    ("9.1 m", "length", 9.1, "meter", "meter"),
    ("6 mil", "length", 0.006, "inch", "meter"),
    ("5 mph", "speed", 5, "mile/hour", "m/s"),
    ("10 km/h", "speed", 10, "km/hour", "m/s"),
    ("12 kn", "speed", 12, "knot", "m/s"),
    ("41 F", "temperature", 41, "degF", "degC"),
    ("300 K", "temperature", 300, "kelvin", "degC"),
    ("14 F", "temperature difference", 14, "delta_degF", "delta_degC"),
    ("0.25 in w.c.", "pressure", 0.25, "inch_H2O", "Pa"),
    ("34 lbf", "force", 34, "lbf", "N"),
    ("60 lbf/ft", "force per length", 60, "lbf/foot", "N/m"),
    ("0.004 in", "rain", 0.004, "inch", "mm"),
    ("1.5 h", "duration", 1.5, "hour", "minute"),
    ("5 fc", "illuminance", 5, "lumen/foot**2", "lumen/meter**2"),
]


@pytest.mark.parametrize(("text", "dimension", "number", "unit", "own"), AGAINST_PINT)
def test_against_pint(text, dimension, number, unit, own):
    """Every factor agrees with a general units library from the package registry."""
    expected = UREG.Quantity(number, unit).to(own).magnitude
    assert parse(text, dimension) == pytest.approx(expected, rel=1e-6)


def test_feet_and_inches_follow_each_other():
    """A tape measure reads feet, then inches, then fractions."""
    assert parse("30 ft 6 in", "length") == pytest.approx(30.5 * 0.3048)
    assert parse("30ft6in", "length") == pytest.approx(30.5 * 0.3048)
    assert parse("1 5/8 in", "length") == pytest.approx(1.625 * 0.0254)
    assert parse("-2 ft 6 in", "length") == pytest.approx(-2.5 * 0.3048)


def test_a_mil_is_a_thickness_and_f_may_be_a_swing():
    """The same letters mean what the dimension says."""
    assert parse("6 mil", "length") == pytest.approx(152.4e-6)
    assert parse("14 F", "temperature difference") == pytest.approx(14 * 5 / 9)
    assert parse("14 F", "temperature") == pytest.approx(-10.0)


@pytest.mark.parametrize(
    ("text", "dimension", "says"),
    [
        ("9.1", "length", "no unit"),
        (30, "length", "no unit"),
        (True, "length", "not a quantity"),
        (None, "length", "not a quantity"),
        ("", "speed", "cannot be read"),
        ("fast", "speed", "cannot be read"),
        ("3 kg", "length", "not a unit of length"),
        ("5 mph 3 mph", "speed", "more than one"),
        ("1/0 in", "length", "cannot be read"),
        ("nan m", "length", "cannot be read"),
    ],
)
def test_refusals_say_why_and_how_to_write_it(text, dimension, says):
    """A quantity that cannot be read says so and shows how to write one."""
    with pytest.raises(UnitError, match=says) as error:
        parse(text, dimension)
    assert '"' in error.value.fix


@given(
    st.sampled_from([(d, u) for d, (_, units) in DIMENSIONS.items() for u in units]),
    st.floats(-500, 500, allow_nan=False),
)
def test_there_and_back(unit_of, number):
    """Reading a text and turning it back into its unit gives the number again."""
    dimension, unit = unit_of
    text = f"{number:.6f} {unit}"
    assert convert(parse(text, dimension), dimension, unit) == pytest.approx(
        float(f"{number:.6f}"), rel=1e-9, abs=1e-6
    )


@pytest.mark.parametrize("system", ["us", "si"])
@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_everything_can_be_shown(system, dimension):
    """Each dimension has a unit in both systems; no data is said in words."""
    assert SHOWN[system][dimension][0] in show(1.0, dimension, system)
    assert show(math.nan, dimension, system) == "no data"
