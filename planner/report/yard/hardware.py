"""What must lie ready: sheets to cut, channel, lines, straps and cord."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.film.sail import GRAVITY
from planner.units import convert, show

if TYPE_CHECKING:
    from planner.film.sheet import Hardware, Sheet


def sheets_to_cut(sheets: tuple[Sheet, ...], *, units: str) -> tuple[str, ...]:
    """Write the sheets of a house with their sizes and weights.

    Parameters
    ----------
    sheets : tuple of Sheet
        To cut for the house.
    units : {"us", "si"}
        Which units to write.

    Returns
    -------
    tuple of str
        ``"1 roof: 31.1 ft x 52.0 ft, 46 lb each"``.
    """
    lines = []
    for sheet in sheets:
        across, along = (show(x, "length", units) for x in (sheet.width, sheet.length))
        mass = f"{sheet.mass:.0f} kg"
        if units == "us":
            mass = f"{convert(sheet.mass * GRAVITY, 'force', 'lbf'):.0f} lb"
        lines.append(f"{sheet.count} {sheet.sheet}: {across} x {along}, {mass} each")
    return tuple(lines)


def hardware_to_have(hardware: Hardware, *, units: str) -> tuple[str, ...]:
    """Write how much channel, line, strap and cord a house takes.

    Parameters
    ----------
    hardware : Hardware
        Of the house.
    units : {"us", "si"}
        Which units to write.

    Returns
    -------
    tuple of str
        One line for what holds the edges, one for what goes over the sheet.
    """

    def size(value: float) -> str:
        return show(value, "length", units, decimals=0)

    return (
        f"channel: {size(hardware.channel_sides)} along the sides, "
        f"{size(hardware.channel_end_hoops)} on the end hoops, "
        f"{size(hardware.channel_end_walls)} for the end walls",
        f"{hardware.throw_lines} throw lines of {size(hardware.throw_line_length)}; "
        f"{hardware.straps} straps of {size(hardware.strap_length)}; "
        f"{size(hardware.cord_per_side)} of cord a side",
    )
