"""What a job file leaves out, filled in; and what that amounts to, in words.

Numbers come from the reference tables. Tables of the file that do not fit together (a
channel above the ridge) are refused here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from planner.job.records import Crew, Film, House, Stakes
from planner.reference.tables import value
from planner.units import convert, show

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.job.complaints import JobText
    from planner.job.schema import CrewTable, FilmTable, HouseTable, JobTable, StakesTable

Units = Literal["us", "si"]


def house(table: HouseTable, where: JobText) -> House:
    """Fill in the frame, and refuse measures that do not fit together."""
    leg = table.leg or 0.0
    spacing = table.bow_spacing
    _check_profile(table, where)
    filled = House(
        profile=table.profile,
        width=table.width,
        length=table.length,
        leg=leg,
        ridge=leg + table.width / 2.0 if table.ridge is None else table.ridge,
        radius=table.radius,
        hip=value("labour", "default_hip") if table.hip is None else table.hip,
        bow_spacing=value("labour", "default_bow_spacing") if spacing is None else spacing,
        frame=table.frame or "steel",
        braced=True if table.braced is None else table.braced,
        channel_holds=table.channel_holds,
    )
    _check_heights(filled, where)
    return filled


def _check_profile(table: HouseTable, where: JobText) -> None:
    """Refuse a gothic bow without a ridge and a round one with a radius."""
    if table.profile == "gothic" and table.ridge is None:
        raise where.error(
            ("house", "ridge"),
            "house.ridge is missing: a gothic house needs it.",
            'Measure from the ground to the ridge, as in ridge = "14 ft".',
        )
    if table.profile == "round" and table.radius is not None:
        raise where.error(
            ("house", "radius"),
            "radius is for a gothic house; that of a round one follows from width and ridge.",
            'Take it out, or write profile = "gothic".',
        )


def _check_heights(house: House, where: JobText) -> None:
    """Refuse a leg or a channel that reaches the ridge, and bows wider apart than the house."""
    ridge = f"the ridge ({house.ridge:.2f} m)"
    if house.leg >= house.ridge:
        raise where.error(
            ("house", "leg"),
            f"the leg ({house.leg:.2f} m) reaches {ridge}.",
            "The leg is the straight part below the curve; both heights are from the ground.",
        )
    if house.hip >= house.ridge:
        raise where.error(
            ("house", "hip"),
            f"the channel along the sides ({house.hip:.2f} m) is not below {ridge}.",
            "Write hip, the height of the channel above the ground.",
        )
    if house.bow_spacing > house.length:
        raise where.error(
            ("house", "bow_spacing"),
            f"the bows stand wider apart ({house.bow_spacing:.2f} m) than the house is long.",
            "Check bow_spacing and length.",
        )


def film(table: FilmTable) -> Film:
    """Fill in the film; a single layer is not inflated, whatever the file says."""
    inflation = 0.0
    if table.layers == 2:
        inflation = table.inflation or value("labour", "default_inflation")
    return Film(
        thickness=table.thickness or _default_thickness(),
        layers=table.layers,
        kind=table.kind,
        sides=table.sides,
        stress_free=_stress_free(table) if table.stress_free is None else table.stress_free,
        inflation=inflation,
    )


def _default_thickness() -> float:
    """Thickness where the file says none [m]."""
    return value("labour", "default_thickness") * 1e-6


def _default_hold() -> float:
    """Pull of one person against a gust where the file says none [N]."""
    return value("labour", "hold_gust")


def _default_pace() -> float:
    """Pace where the file says none [-]."""
    return value("labour", "default_pace")


def _stress_free(table: FilmTable) -> float:
    """Stress-free film temperature where the file says none [degC]."""
    return value("film", "stress_free_single" if table.layers == 1 else "stress_free_double")


def crew(table: CrewTable, where: JobText) -> Crew:
    """Fill in the crew, and refuse hours that end before they begin."""
    if (
        isinstance(table.start, int)
        and isinstance(table.stop, int)
        and (table.start >= table.stop)
    ):
        raise where.error(
            ("crew", "stop"),
            "the crew stops before it starts.",
            'Both are times of one day, as in start = "6:30 am" and stop = "8:00 pm".',
        )
    return Crew(
        people=table.people,
        hold=table.hold or _default_hold(),
        pace=table.pace or _default_pace(),
        start=table.start,
        stop=table.stop,
        days_off=table.days_off,
        used_to_heat=table.used_to_heat,
    )


def stakes(table: StakesTable) -> Stakes:
    """Fill in what going wrong and waiting cost."""
    said: dict[str, float | None] = {
        key: getattr(table, key)
        for key in ("sheet_lost", "deadline_missed", "day_waited", "sent_home")
    }
    filled = {
        key: value("labour", f"default_{key}") if cost is None else cost
        for key, cost in said.items()
    }
    return Stakes(**filled, lost_when=table.lost_when, money=table.money)


def assumed(table: JobTable, filled: House, *, units: Units) -> Iterator[str]:
    """Say in words what was filled in and matters, in the units of the file."""
    yield from _assumed_house(table.house, filled, units=units)
    film, crew = table.film, table.crew
    if table.place.ground is None:
        yield "ground open"
    if film.thickness is None:
        unit = "mil" if units == "us" else "um"
        yield f"film {convert(_default_thickness(), 'length', unit):.0f} {unit}"
    if film.layers == 1 and film.inflation is not None:
        yield "inflation not used: one layer"
    if film.stress_free is None:
        yield f"stress-free film {_short(_stress_free(film), 'temperature', units)}"
    if crew.hold is None:
        yield f"each holds {_short(_default_hold(), 'force', units)}"
    if crew.pace is None:
        yield f"pace {_default_pace():g}"
    if None in (table.stakes.sheet_lost, table.stakes.day_waited):
        yield "what a loss and a wait cost"


def _assumed_house(table: HouseTable, filled: House, *, units: Units) -> Iterator[str]:
    """Say what was filled in about the frame."""
    lengths = {
        "ridge": (table.ridge, filled.ridge),
        "leg": (table.leg, filled.leg),
        "channel at": (table.hip, filled.hip),
        "bows every": (table.bow_spacing, filled.bow_spacing),
    }
    for name, (said, length) in lengths.items():
        if said is None:
            yield f"{name} {_short(length, 'length', units)}"
    if table.frame is None:
        yield f"{filled.frame} frame"
    if table.braced is None:
        yield "frame braced along the ridge"


def _short(amount: float, dimension: str, units: Units) -> str:
    """Write a quantity without a needless ".0"."""
    return show(amount, dimension, units).replace(".0 ", " ")
