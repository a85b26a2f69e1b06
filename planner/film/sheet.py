"""The shape of the house, the sheets to cut for it, and the channel and rope they need.

Heights are measured from the ground. Half a bow is a straight upright ``leg`` and one
circular arc from the spring (the top of the leg) to the ridge; the two arcs of a round
bow share one centre below the ridge, those of a gothic bow meet at a point.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from planner.errors import OutOfRange, UsageError
from planner.film.sail import mass_per_area
from planner.reference.tables import value

Kind = Literal["round", "gothic"]
Sides = Literal["separate", "one-piece"]

_CLOSE = 1e-6  # lengths this near each other are one length [m]
_LEAST, _MOST = 0.1, 1000.0  # no house is smaller or larger: these only catch slips [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """The outline of a bow; make one with ``profile``, which refuses impossible houses.

    Attributes
    ----------
    kind : {"round", "gothic"}
        One arc over the house, or two that meet at the ridge.
    width, leg, rise, radius : float
        From foot to foot; straight upright part; from spring to ridge; of the arc [m].
    """

    kind: Kind
    width: float
    leg: float
    rise: float
    radius: float

    @property
    def ridge(self) -> float:
        """Height of the ridge above the ground [m]."""
        return self.leg + self.rise

    @property
    def arc_ground_to_ground(self) -> float:
        """Length over the bow from ground to ground [m]."""
        return 2.0 * (self.leg + _arc_above(self, 0.0))

    @property
    def end_area(self) -> float:
        """Area of one end of the house [m2]."""
        across = _centre(self)[0]
        low, high = _angle(self, 0.0), _angle(self, self.rise)
        turned = high - low + (math.sin(2.0 * high) - math.sin(2.0 * low)) / 2.0
        shifted = across * (math.sin(high) - math.sin(low))
        return self.radius * (2.0 * shifted + self.radius * turned) + self.width * self.leg


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One size of sheet to cut.

    Attributes
    ----------
    sheet, count : {"roof", "end wall", "side"}, int
        Where it goes, and how many of this size the house takes [-].
    width, length, area, mass : float
        Of one, margins for the hands included, dry [m, m, m2, kg].
    """

    sheet: Literal["roof", "end wall", "side"]
    count: int
    width: float
    length: float
    area: float
    mass: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hardware:
    """The channel, lines, straps and cord for one house.

    Attributes
    ----------
    channel_sides, channel_end_hoops, channel_end_walls : float
        Channel along both sides, over both end hoops, and for the end-wall sheets [m].
    bays, bows, throw_lines, straps : int
        Spaces between bows, bows, lines to pull the roof over with, straps on it [-].
    throw_line_length, strap_length, cord_per_side : float
        One line, one strap, the zigzag cord over one roll-up side [m].
    keep_clear : float
        No overhead line, no bystander nearer than this to where a line is thrown [m].
    """

    channel_sides: float
    channel_end_hoops: float
    channel_end_walls: float
    bays: int
    bows: int
    throw_lines: int
    straps: int
    throw_line_length: float
    strap_length: float
    cord_per_side: float
    keep_clear: float

    @property
    def channel_roof(self) -> float:
        """Channel that the roof sheet is locked into: sides and end hoops [m]."""
        return self.channel_sides + self.channel_end_hoops

    @property
    def channel_total(self) -> float:
        """All the channel [m]."""
        return self.channel_roof + self.channel_end_walls


def profile(
    kind: Kind, width: float, *, leg: float, ridge: float, radius: float | None = None
) -> Profile:
    """Describe a bow by what a tape measures, or say why it cannot be built.

    Parameters
    ----------
    kind : {"round", "gothic"}
        One arc, or two that meet at the ridge.
    width : float
        From foot to foot [m].
    leg, ridge : float
        Height of the straight upright part, 0 if there is none, and of the ridge [m].
    radius : float, optional
        Of a gothic bow's arcs; left out, they rise upright from the spring [m].

    Returns
    -------
    Profile
        The outline.

    Raises
    ------
    OutOfRange
        If the width or the rise above the leg is under 0.1 m, the leg below 0, the rise
        more than the width, or the radius so short that a gothic ridge would dip; any
        of them over 1000 m or NaN.
    UsageError
        If a round bow is given a radius, or a gothic bow needs one.

    Notes
    -----
    With rise ``s`` above the spring, a round bow has ``R = (w^2/4 + s^2) / (2 s)``, a
    gothic one that is upright at the spring ``R = (w^2/4 + s^2) / w``. Two arcs dip at
    the ridge unless ``R`` is at least that of the round bow, so an upright gothic needs
    ``s >= w/2``. A round bow may be a little more than a half circle.

    Examples
    --------
    A 9 m gothic house, 4.8 m high:

    >>> gothic = profile("gothic", 9.0, leg=0.0, ridge=4.8)
    >>> gothic.radius, gothic.arc_ground_to_ground, gothic.end_area
    (4.810, 14.491, 33.362)
    """
    _within("the width of the house", width, low=_LEAST)
    _within("the straight leg of the bow", leg, low=0.0)
    rise = ridge - leg
    above_ground = "Give the ridge and the leg as heights above the ground."
    _within("the rise of the bow above its leg", rise, low=_LEAST, high=width, fix=above_ground)
    radius = _radius(kind, width, rise, radius=radius)
    return Profile(kind=kind, width=width, leg=leg, rise=rise, radius=radius)


def _radius(kind: Kind, width: float, rise: float, *, radius: float | None) -> float:
    """Radius of the arcs, given or worked out [m]."""
    square = width**2 / 4.0 + rise**2
    shortest = square / (2.0 * rise)
    if kind == "round":
        if radius is not None:
            message = "The radius of a round bow follows from its width, leg and ridge."
            raise UsageError(message, fix="Leave the radius out.")
        return shortest
    if radius is None:
        if rise < width / 2.0 - _CLOSE:
            raise UsageError(
                f"A gothic bow {width:g} m wide that rises {rise:g} m cannot be upright at its "
                "spring: its ridge would dip.",
                fix=f"Give the radius of its arcs, at least {shortest:.3g} m.",
            )
        return max(square / width, shortest)
    dips = "A shorter radius makes the ridge dip: measure it again, or give another ridge."
    _within("the radius of the gothic bow", radius, low=shortest - _CLOSE, fix=dips)
    return max(radius, shortest)


def arc_lock_to_lock(profile: Profile, hip: float) -> float:
    """Measure over the bow from the channel on one side to the channel on the other.

    The roof sheet lies on this length, and its slack is a share of it.

    Parameters
    ----------
    profile : Profile
        The outline.
    hip : float
        Height of the channel along the sides [m].

    Returns
    -------
    float
        Length along the bow between the two channels, their depth ignored [m].

    Raises
    ------
    OutOfRange
        If the channel is below the ground or not at least 0.1 m below the ridge.

    Examples
    --------
    A 9 m half circle locked at 1.5 m, ``4.5 (pi - 2 asin(1/3))``:

    >>> arc_lock_to_lock(profile("round", 9.0, leg=0.0, ridge=4.5), 1.5)
    11.08
    """
    _within("the height of the channel", hip, low=0.0, high=profile.ridge - _LEAST)
    if hip <= profile.leg:
        return profile.arc_ground_to_ground - 2.0 * hip
    return 2.0 * _arc_above(profile, hip - profile.leg)


def sheet_sizes(
    profile: Profile,
    *,
    length: float,
    hip: float,
    thickness: float,
    layers: int = 1,
    sides: Sides = "separate",
) -> tuple[Sheet, ...]:
    """List the sheets to cut: roof, end walls and, if separate, the roll-up sides.

    The cut sheet, margins included, is also what the wind takes hold of.

    Parameters
    ----------
    profile : Profile
        The outline.
    length, hip : float
        Of the house; height of the channel along its sides [m].
    thickness : float
        Of one layer of film [m].
    layers : int
        Of the roof, each a sheet of its own; end walls and sides have one [-].
    sides : {"separate", "one-piece"}
        Whether the roll-up sides are sheets of their own or the roof sheet's tails.

    Returns
    -------
    tuple of Sheet
        One record a size. No side sheet if the channel lies on the ground.

    Raises
    ------
    OutOfRange
        If the length is under 0.1 m, or as in ``arc_lock_to_lock``.

    Notes
    -----
    The margins are practice (reference table ``labour``); rounding up to a roll width
    is left to the buyer.

    Examples
    --------
    >>> house = profile("round", 9.0, leg=0.0, ridge=4.5)
    >>> roof, end, side = sheet_sizes(house, length=29.0, hip=1.5, thickness=150e-6)
    >>> roof.width, roof.length, roof.area, roof.mass
    (11.98, 30.20, 361.75, 49.9)
    """
    _within("the length of the house", length, low=_LEAST)
    weight = mass_per_area(thickness)
    width = _roof_width(profile, hip, sides)
    end = value("labour", "end_wall_margin")
    sizes: list[tuple[Literal["roof", "end wall", "side"], int, float, float]] = [
        ("roof", layers, width, length + 2.0 * value("labour", "roof_end_margin")),
        ("end wall", 2, profile.width + 2.0 * end, profile.ridge + 2.0 * end),
    ]
    if sides == "separate" and hip > 0.0:
        tall = hip + value("labour", "side_width_margin")
        sizes.append(("side", 2, tall, length + 2.0 * value("labour", "side_end_margin")))
    return tuple(
        Sheet(sheet=name, count=n, width=w, length=x, area=w * x, mass=w * x * weight)
        for name, n, w, x in sizes
    )


def hardware(
    profile: Profile,
    *,
    length: float,
    hip: float,
    bow_spacing: float,
    sides: Sides = "separate",
) -> Hardware:
    """Count the channel, throw lines, straps and cord, and the ground to keep clear.

    Parameters
    ----------
    profile : Profile
        The outline.
    length, hip : float
        Of the house; height of the channel along its sides [m].
    bow_spacing : float
        Widest space between two bows [m].
    sides : {"separate", "one-piece"}
        Whether the roll-up sides are sheets of their own or the roof sheet's tails.

    Returns
    -------
    Hardware
        Lengths and counts.

    Raises
    ------
    OutOfRange
        If the length or the spacing is under 0.1 m, or as in ``arc_lock_to_lock``.

    Notes
    -----
    Practice (reference table ``labour``). An end wall is locked round its hoop, from
    channel height to channel height, and across its foot; its door frame is not counted.

    Examples
    --------
    >>> house = profile("round", 9.0, leg=0.0, ridge=4.5)
    >>> parts = hardware(house, length=29.0, hip=1.5, bow_spacing=1.22)
    >>> parts.channel_roof, parts.channel_total, parts.throw_lines, parts.bows, parts.straps
    (80.2, 120.3, 5, 25, 12)
    """
    _within("the length of the house", length, low=_LEAST)
    _within("the bow spacing", bow_spacing, low=_LEAST)
    arc, over = arc_lock_to_lock(profile, hip), profile.arc_ground_to_ground
    bays = max(1, math.ceil(length / bow_spacing - _CLOSE))
    lines = max(
        value("labour", "throw_line_fewest"),
        round(length / value("labour", "throw_line_spacing")) + 1,
    )
    throw = max(_roof_width(profile, hip, sides), over) + value("labour", "throw_line_extra")
    zigzag = 2.0 * bays * math.hypot(hip, length / bays / 2.0)
    return Hardware(
        channel_sides=2.0 * length,
        channel_end_hoops=2.0 * arc,
        channel_end_walls=2.0 * (arc + profile.width),
        bays=bays,
        bows=bays + 1,
        throw_lines=int(lines),
        straps=math.ceil(bays / value("labour", "strap_bays")),
        throw_line_length=throw,
        strap_length=over + value("labour", "strap_extra"),
        cord_per_side=zigzag * value("labour", "cord_factor") + value("labour", "cord_extra"),
        keep_clear=throw + value("labour", "keep_clear_extra"),
    )


def _roof_width(profile: Profile, hip: float, sides: Sides) -> float:
    """Cut width of the roof sheet [m]."""
    arc = arc_lock_to_lock(profile, hip)
    if sides == "one-piece":
        return profile.arc_ground_to_ground + 2.0 * value("labour", "roof_tail_margin")
    return arc + 2.0 * value("labour", "roof_side_margin")


def _centre(profile: Profile) -> tuple[float, float]:
    """Centre of the right-hand arc, from mid house and the height of the spring [m]."""
    half, rise = profile.width / 2.0, profile.rise
    if profile.kind == "round":
        return 0.0, rise - profile.radius
    chord = math.hypot(half, rise)
    away = math.sqrt(max(profile.radius**2 - chord**2 / 4.0, 0.0))
    return half / 2.0 - away * rise / chord, rise / 2.0 - away * half / chord


def _angle(profile: Profile, height: float) -> float:
    """Angle of a point on the right-hand arc, seen from its centre [rad]."""
    sine = (height - _centre(profile)[1]) / profile.radius
    return math.asin(min(max(sine, -1.0), 1.0))


def _arc_above(profile: Profile, height: float) -> float:
    """Length of one half arc above a height over the spring [m]."""
    return profile.radius * (_angle(profile, profile.rise) - _angle(profile, height))


def _within(
    name: str, number: float, *, low: float, high: float = _MOST, fix: str = ""
) -> None:
    """Refuse a length outside its range [m]; NaN is outside every range."""
    if not low <= number <= high:
        raise OutOfRange(name, value=number, low=low, high=high, unit="m", fix=fix)
