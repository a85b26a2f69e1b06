"""The outline of a house and what is cut for it.

``house_geometry.csv`` holds working values computed independently of this code, by
textbook circle formulas, before it was written; the integrals below are a second check.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.errors import OutOfRange, PlannerError
from planner.film.sheet import Profile, arc_lock_to_lock, hardware, profile, sheet_sizes

PUBLISHED = Path(__file__).parents[1] / "published" / "house_geometry.csv"
HOUSES = list(csv.DictReader(PUBLISHED.read_text(encoding="utf-8").splitlines()))
LAST_DIGIT = 0.0051  # rounded to two decimals [m]
TENTH = 0.051  # rounded to one decimal
LINE = 0.06  # rounded to one decimal, from an arc rounded before it [m]
HALF = 0.51  # rounded to whole numbers
MILLIMETRE = 1e-3
FINE = 1e-6  # relative error of the stepwise integral
FILM = 150e-6

widths = st.floats(3.0, 12.0)
legs = st.floats(0.0, 2.0)
shares = st.floats(0.15, 0.55)


def number(house: dict[str, str], key: str) -> float:
    return float(house[key])


def built(house: dict[str, str]) -> Profile:
    return profile(
        "gothic" if house["kind"] == "gothic" else "round",
        number(house, "width"),
        leg=number(house, "leg"),
        ridge=number(house, "ridge"),
    )


def traced(bow: Profile, points: int = 20001) -> tuple[np.ndarray, np.ndarray]:
    """Points up the right-hand half of a bow, found by intersecting two circles.

    The centre is the one point at ``radius`` from both the spring and the ridge that
    lies inside the house: solved here by turning the chord, not by the module's way.
    """
    spring, ridge = complex(bow.width / 2, bow.leg), complex(0.0, bow.ridge)
    chord = ridge - spring
    turn = math.acos(min(abs(chord) / 2 / bow.radius, 1.0))
    centre = spring + chord / abs(chord) * bow.radius * np.exp(1j * turn)
    start = spring - centre
    sweep = float(np.angle((ridge - centre) / start))
    arc = centre + start * np.exp(1j * np.linspace(0.0, sweep, points))
    return np.concatenate([[bow.width / 2], arc.real]), np.concatenate([[0.0], arc.imag])


def walked(bow: Profile, above: float = 0.0) -> tuple[float, float]:
    """Length and area of a bow above a height, summed over short straight steps."""
    x, y = traced(bow)
    keep = y >= above - 1e-12
    xs, ys = x[keep], y[keep]
    if above > 0.0:
        xs = np.concatenate([[np.interp(above, y, x)], xs])
        ys = np.concatenate([[above], ys])
    length = np.hypot(np.diff(xs), np.diff(ys)).sum()
    area = (np.diff(ys) * (xs[1:] + xs[:-1]) / 2).sum()
    return 2.0 * float(length), 2.0 * float(area)


@pytest.mark.parametrize("house", HOUSES, ids=[h["name"] for h in HOUSES])
def test_outline_matches_working_values(house):
    """Radius, arcs and end area of six houses, to the digits of the working values."""
    bow = built(house)
    assert bow.radius == pytest.approx(number(house, "radius"), abs=LAST_DIGIT)
    assert bow.arc_ground_to_ground == pytest.approx(
        number(house, "arc_ground"), abs=LAST_DIGIT
    )
    assert arc_lock_to_lock(bow, number(house, "hip")) == pytest.approx(
        number(house, "arc_lock"), abs=LAST_DIGIT
    )
    assert bow.end_area == pytest.approx(number(house, "end_area"), abs=TENTH)


@pytest.mark.parametrize("house", HOUSES, ids=[h["name"] for h in HOUSES])
def test_roof_sheet_matches_working_values(house):
    """Size, area and weight of the roof sheet of six houses."""
    measures = {"length": number(house, "length"), "hip": number(house, "hip")}
    roof = sheet_sizes(built(house), **measures, thickness=FILM)[0]
    whole = sheet_sizes(built(house), **measures, thickness=FILM, sides="one-piece")[0]
    assert roof.width == pytest.approx(number(house, "sheet_width"), abs=LAST_DIGIT)
    assert roof.length == pytest.approx(number(house, "sheet_length"), abs=MILLIMETRE)
    assert roof.area == pytest.approx(number(house, "sheet_area"), abs=HALF)
    assert whole.area == pytest.approx(number(house, "one_piece_area"), abs=HALF)
    assert roof.mass == pytest.approx(number(house, "mass"), abs=TENTH)


@pytest.mark.parametrize("house", HOUSES, ids=[h["name"] for h in HOUSES])
def test_hardware_matches_working_values(house):
    """Channel, lines, straps and cord of six houses."""
    parts = hardware(
        built(house),
        length=number(house, "length"),
        hip=number(house, "hip"),
        bow_spacing=number(house, "bow_spacing"),
    )
    assert parts.channel_roof == pytest.approx(number(house, "channel_roof"), abs=TENTH)
    assert parts.channel_total == pytest.approx(number(house, "channel_total"), abs=TENTH)
    assert parts.throw_lines == number(house, "throw_lines")
    assert parts.throw_line_length == pytest.approx(
        number(house, "throw_line_length"), abs=LINE
    )
    assert (parts.bows, parts.straps) == (number(house, "bows"), number(house, "straps"))
    assert parts.cord_per_side == pytest.approx(number(house, "cord_per_side"), abs=HALF)
    assert parts.keep_clear == pytest.approx(parts.throw_line_length + 3.0)


@given(width=widths, leg=legs, share=shares, hip=st.floats(0.0, 1.2))
def test_round_bow_matches_short_straight_steps(width, leg, share, hip):
    """Any round bow: length, area and lock-to-lock length as summed along the curve."""
    bow = profile("round", width, leg=leg, ridge=leg + share * width)
    hip = min(hip, bow.ridge - 0.2)
    length, area = walked(bow)
    assert bow.arc_ground_to_ground == pytest.approx(length, rel=FINE)
    assert bow.end_area == pytest.approx(area, rel=FINE)
    assert arc_lock_to_lock(bow, hip) == pytest.approx(walked(bow, hip)[0], rel=FINE)


@given(width=widths, leg=legs, share=st.floats(0.2, 0.7), stretch=st.floats(1.0, 4.0))
def test_gothic_bow_matches_short_straight_steps(width, leg, share, stretch):
    """Any gothic bow with a radius: length and area as summed along the curve."""
    rise = share * width
    radius = stretch * (width**2 / 4 + rise**2) / (2 * rise)
    bow = profile("gothic", width, leg=leg, ridge=leg + rise, radius=radius)
    length, area = walked(bow)
    assert bow.arc_ground_to_ground == pytest.approx(length, rel=FINE)
    assert bow.end_area == pytest.approx(area, rel=FINE)
    hip = 0.6 * bow.ridge
    assert arc_lock_to_lock(bow, hip) == pytest.approx(walked(bow, hip)[0], rel=FINE)


def test_gothic_with_given_radius():
    """A 9 m gothic, rise 2.8 m, radius 6 m: arc 10.979 m, end 17.006 m2 (working values)."""
    bow = profile("gothic", 9.0, leg=0.0, ridge=2.8, radius=6.0)
    assert bow.arc_ground_to_ground == pytest.approx(10.979, abs=MILLIMETRE)
    assert bow.end_area == pytest.approx(17.006, abs=MILLIMETRE)


@given(width=widths, leg=legs)
def test_gothic_as_high_as_half_its_width_is_a_half_circle(width, leg):
    """With rise and radius half the width, both kinds are the half circle of geometry."""
    for bow in (
        profile("gothic", width, leg=leg, ridge=leg + width / 2),
        profile("gothic", width, leg=leg, ridge=leg + width / 2, radius=width / 2),
        profile("round", width, leg=leg, ridge=leg + width / 2),
    ):
        assert bow.arc_ground_to_ground == pytest.approx(math.pi * width / 2 + 2 * leg)
        assert bow.end_area == pytest.approx(math.pi * width**2 / 8 + width * leg)


def test_very_long_radius_is_straight_rafters():
    """Arcs of nearly endless radius are two straight rafters and a triangle."""
    bow = profile("gothic", 8.0, leg=0.0, ridge=3.0, radius=900.0)
    assert bow.arc_ground_to_ground == pytest.approx(10.0, abs=MILLIMETRE)
    assert bow.end_area == pytest.approx(12.0, abs=0.05)


@given(width=widths, wider=st.floats(0.01, 3.0), leg=legs, rise=st.floats(0.6, 1.4))
def test_wider_houses_have_longer_arcs(width, wider, leg, rise):
    """Same leg and ridge, wider house: more arc, more end, a flatter curve."""
    near = profile("round", width, leg=leg, ridge=leg + rise)
    far = profile("round", width + wider, leg=leg, ridge=leg + rise)
    assert far.arc_ground_to_ground > near.arc_ground_to_ground
    assert far.end_area > near.end_area
    assert far.radius > near.radius


@given(width=widths, leg=legs, share=shares, low=st.floats(0.0, 0.8), up=st.floats(0.01, 0.1))
def test_higher_channel_means_less_sheet(width, leg, share, low, up):
    """The higher the channel, the shorter the arc; by at least twice the height."""
    bow = profile("round", width, leg=leg, ridge=leg + share * width)
    low = min(low, bow.ridge - 0.3)
    lower, upper = arc_lock_to_lock(bow, low), arc_lock_to_lock(bow, low + up)
    assert lower - upper >= 2 * up - 1e-9
    assert arc_lock_to_lock(bow, 0.0) == pytest.approx(bow.arc_ground_to_ground)


@pytest.mark.parametrize(
    ("kind", "width", "leg", "ridge", "radius"),
    [
        ("round", 0.0, 0.0, 3.0, None),
        ("round", -9.0, 0.0, 3.0, None),
        ("round", 9.0, -0.1, 3.0, None),
        ("round", 9.0, 3.0, 3.0, None),
        ("round", 9.0, 3.5, 3.0, None),
        ("round", 3.0, 0.0, 4.5, None),
        ("round", math.nan, 0.0, 3.0, None),
        ("round", 9.0, 0.0, math.inf, None),
        ("gothic", 9.0, 0.0, 4.8, 4.0),
        ("gothic", 9.0, 0.0, 2.8, 5.0),
    ],
)
def test_impossible_houses_are_refused(kind, width, leg, ridge, radius):
    """No width, a leg past the ridge, a radius that cannot reach: each is out of range."""
    with pytest.raises(OutOfRange, match="must lie between"):
        profile(kind, width, leg=leg, ridge=ridge, radius=radius)


def test_low_gothic_asks_for_its_radius():
    """Upright at the spring and lower than half its width, the ridge would dip."""
    with pytest.raises(PlannerError, match="Give the radius") as refused:
        profile("gothic", 9.0, leg=0.0, ridge=3.6)
    assert "4.61" in str(refused.value)  # (4.5^2 + 3.6^2) / (2 x 3.6) = 4.6125
    assert profile("gothic", 9.0, leg=0.0, ridge=3.6, radius=4.613).rise == 3.6


def test_round_bow_takes_no_radius():
    """A round bow's radius follows from the rest, so a second one is refused."""
    with pytest.raises(PlannerError, match="Leave the radius out"):
        profile("round", 9.0, leg=0.0, ridge=4.5, radius=4.5)


@pytest.mark.parametrize("hip", [-0.1, 4.5, 5.0, math.nan])
def test_channel_must_be_on_the_bow(hip):
    """A channel under the ground or over the ridge is refused."""
    with pytest.raises(OutOfRange, match="channel"):
        arc_lock_to_lock(profile("round", 9.0, leg=0.0, ridge=4.5), hip)


@pytest.mark.parametrize("length", [0.0, -29.0, math.nan])
def test_house_must_have_a_length(length):
    """Without a length there is nothing to cut and nothing to count."""
    bow = profile("round", 9.0, leg=0.0, ridge=4.5)
    with pytest.raises(OutOfRange, match="length"):
        sheet_sizes(bow, length=length, hip=1.5, thickness=FILM)
    with pytest.raises(OutOfRange, match="length"):
        hardware(bow, length=length, hip=1.5, bow_spacing=1.2)


def test_end_walls_and_sides():
    """End wall (w + .6)(ridge + .6), side (hip + .3)(length + .6): the cutting rules."""
    bow = profile("round", 9.0, leg=0.0, ridge=4.5)
    roof, end, side = sheet_sizes(bow, length=29.0, hip=1.5, thickness=FILM, layers=2)
    assert (roof.sheet, roof.count) == ("roof", 2)
    assert (end.sheet, end.count) == ("end wall", 2)
    assert (end.width, end.length) == pytest.approx((9.6, 5.1))
    assert (side.sheet, side.count) == ("side", 2)
    assert (side.width, side.length) == pytest.approx((1.8, 29.6))
    assert side.mass == pytest.approx(1.8 * 29.6 * 0.138)


def test_no_side_sheet_when_there_is_no_side():
    """One sheet to the ground, or a channel on the ground: no curtain to cut."""
    bow = profile("round", 9.0, leg=0.0, ridge=4.5)
    tails = sheet_sizes(bow, length=29.0, hip=1.5, thickness=FILM, sides="one-piece")
    ground = sheet_sizes(bow, length=29.0, hip=0.0, thickness=FILM)
    assert [s.sheet for s in tails] == [s.sheet for s in ground] == ["roof", "end wall"]


def test_lines_reach_over_a_one_piece_sheet():
    """The line is as long as the sheet it pulls: 9 m half circle, arc + .6 + 3 m."""
    bow = profile("round", 9.0, leg=0.0, ridge=4.5)
    parts = hardware(bow, length=29.0, hip=1.5, bow_spacing=1.22, sides="one-piece")
    assert parts.throw_line_length == pytest.approx(math.pi * 4.5 + 0.6 + 3.0)


@given(length=st.floats(2.0, 60.0), spacing=st.floats(0.8, 3.0))
def test_bows_are_never_wider_apart_than_asked(length, spacing):
    """The bays fill the length, none wider than the spacing, and none to spare."""
    bow = profile("round", 6.0, leg=0.0, ridge=3.0)
    parts = hardware(bow, length=length, hip=1.2, bow_spacing=spacing)
    assert parts.bows == parts.bays + 1
    assert length / parts.bays <= spacing * (1 + 1e-5)
    assert parts.bays == 1 or length / (parts.bays - 1) > spacing
    assert parts.throw_lines >= 2
