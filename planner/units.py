"""Units at the two borders: what people type, and what people read.

Inside the planner a quantity has one unit (see ``DIMENSIONS``). A text is read
*by the dimension that is expected*, because the trade's short forms mean
different things in different places: "6 mil" is a thickness, "14 F" is a
temperature or a swing of temperature, "0.25 in w.c." is a pressure.
"""

from __future__ import annotations

import re
from typing import Final

from planner.errors import UnitError, nearest

_FOOT: Final = 0.3048
_INCH: Final = 0.0254
_POUND_FORCE: Final = 4.4482216152605
_MILE: Final = 1609.344
_HOUR: Final = 3600.0
_INCH_OF_WATER: Final = 249.08891  # Pa, water of 1000 kg/m3

#: dimension -> (unit inside the planner, {unit as typed: (factor, offset)}).
DIMENSIONS: Final[dict[str, tuple[str, dict[str, tuple[float, float]]]]] = {
    "length": (
        "m",
        {
            "m": (1.0, 0.0),
            "cm": (0.01, 0.0),
            "mm": (0.001, 0.0),
            "km": (1000.0, 0.0),
            "um": (1e-6, 0.0),
            "ft": (_FOOT, 0.0),
            "'": (_FOOT, 0.0),
            "in": (_INCH, 0.0),
            '"': (_INCH, 0.0),
            "mil": (_INCH / 1000.0, 0.0),
        },
    ),
    "speed": (
        "m/s",
        {
            "m/s": (1.0, 0.0),
            "km/h": (1.0 / 3.6, 0.0),
            "mph": (_MILE / _HOUR, 0.0),
            "kn": (1852.0 / _HOUR, 0.0),
            "kt": (1852.0 / _HOUR, 0.0),
            "ft/s": (_FOOT, 0.0),
        },
    ),
    "temperature": (
        "degC",
        {
            "C": (1.0, 0.0),
            "F": (5.0 / 9.0, -160.0 / 9.0),
            "K": (1.0, -273.15),
        },
    ),
    "temperature difference": (
        "K",
        {"C": (1.0, 0.0), "K": (1.0, 0.0), "F": (5.0 / 9.0, 0.0)},
    ),
    "rain": (
        "mm",
        {"mm": (1.0, 0.0), "cm": (10.0, 0.0), "m": (1000.0, 0.0), "in": (25.4, 0.0)},
    ),
    "pressure": (
        "Pa",
        {
            "Pa": (1.0, 0.0),
            "hPa": (100.0, 0.0),
            "mbar": (100.0, 0.0),
            "mb": (100.0, 0.0),
            "kPa": (1000.0, 0.0),
            "in w.c.": (_INCH_OF_WATER, 0.0),
            "in wc": (_INCH_OF_WATER, 0.0),
            "mm w.c.": (_INCH_OF_WATER / 25.4, 0.0),
        },
    ),
    "force": (
        "N",
        {
            "N": (1.0, 0.0),
            "kN": (1000.0, 0.0),
            "lbf": (_POUND_FORCE, 0.0),
            "kgf": (9.80665, 0.0),
        },
    ),
    "force per length": (
        "N/m",
        {
            "N/m": (1.0, 0.0),
            "kN/m": (1000.0, 0.0),
            "lbf/ft": (_POUND_FORCE / _FOOT, 0.0),
            "lbf/in": (_POUND_FORCE / _INCH, 0.0),
        },
    ),
    "duration": (
        "min",
        {
            "min": (1.0, 0.0),
            "minutes": (1.0, 0.0),
            "h": (60.0, 0.0),
            "hour": (60.0, 0.0),
            "hours": (60.0, 0.0),
        },
    ),
    "angle": ("deg", {"deg": (1.0, 0.0)}),
    "illuminance": ("lx", {"lx": (1.0, 0.0), "lux": (1.0, 0.0), "fc": (10.7639104, 0.0)}),
}

#: How a unit is written for the reader, and the spellings that mean it.
_SPELLINGS: Final = {
    "°c": "C",
    "degc": "C",
    "c": "C",
    "celsius": "C",
    "°f": "F",
    "degf": "F",
    "f": "F",
    "fahrenheit": "F",
    "k": "K",
    "n": "N",
    "pa": "Pa",
    "feet": "ft",
    "foot": "ft",
    "inch": "in",
    "inches": "in",
    "mils": "mil",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "µm": "um",
    "μm": "um",
    "micron": "um",
    "microns": "um",
    "mps": "m/s",
    "kmh": "km/h",
    "kph": "km/h",
    "knots": "kn",
    "knot": "kn",
    "mp/h": "mph",
    "km_h-1": "km/h",  # codes of the WMO register of units
    "m_s-1": "m/s",
    "degree_(angle)": "deg",
    "minute": "minutes",
    "mins": "min",
    "hr": "h",
    "hrs": "h",
    "°": "deg",
    "degree": "deg",
    "degrees": "deg",
    "inh2o": "in w.c.",
    "in h2o": "in w.c.",
    "in w.c": "in w.c.",
}

_NUMBER = r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)"
_FRACTION = re.compile(rf"^({_NUMBER})\s+(\d+)/(\d+)\s*(.*)$|^(\d+)/(\d+)\s*(.*)$")
_PART = re.compile(rf"\s*({_NUMBER})\s*([^\d\s+/.-][^\d+-]*?)\s*(?={_NUMBER}|$)")

#: Units shown for each dimension in the two systems: (unit, decimals).
SHOWN: Final[dict[str, dict[str, tuple[str, int]]]] = {
    "si": {
        "length": ("m", 1),
        "speed": ("m/s", 1),
        "temperature": ("C", 0),
        "temperature difference": ("C", 0),
        "rain": ("mm", 1),
        "pressure": ("Pa", 0),
        "force": ("N", 0),
        "force per length": ("N/m", 0),
        "duration": ("min", 0),
        "angle": ("deg", 0),
        "illuminance": ("lx", 0),
    },
    "us": {
        "length": ("ft", 1),
        "speed": ("mph", 1),
        "temperature": ("F", 0),
        "temperature difference": ("F", 0),
        "rain": ("in", 2),
        "pressure": ("in w.c.", 2),
        "force": ("lbf", 0),
        "force per length": ("lbf/ft", 0),
        "duration": ("min", 0),
        "angle": ("deg", 0),
        "illuminance": ("fc", 0),
    },
}


def _table(dimension: str) -> dict[str, tuple[float, float]]:
    if dimension not in DIMENSIONS:
        near = nearest(dimension, DIMENSIONS)
        raise UnitError(f'There is no dimension "{dimension}"; near it: {", ".join(near)}.')
    return DIMENSIONS[dimension][1]


def _example(dimension: str) -> str:
    return {
        "length": '"30 ft", "30 ft 6 in", "9.1 m" or "6 mil"',
        "speed": '"5 mph" or "3 m/s"',
        "temperature": '"41 F" or "5 C"',
        "temperature difference": '"14 F" or "8 C"',
        "rain": '"0.004 in" or "0.1 mm"',
        "pressure": '"0.25 in w.c." or "62 Pa"',
        "force": '"34 lbf" or "150 N"',
        "force per length": '"60 lbf/ft" or "900 N/m"',
        "duration": '"20 min" or "1.5 h"',
        "angle": '"0 deg"',
        "illuminance": '"5 fc" or "54 lx"',
    }[dimension]


def unit_factor(unit: str, dimension: str) -> tuple[float, float]:
    """Give the factor and offset that turn a unit into the planner's own.

    Parameters
    ----------
    unit : str
        As written: ``"km/h"``, ``"°F"``, ``"in w.c."``.
    dimension : str
        One of ``DIMENSIONS``.

    Returns
    -------
    tuple of float
        ``own = value * factor + offset``.

    Raises
    ------
    UnitError
        If the unit does not belong to the dimension.

    Examples
    --------
    >>> unit_factor("km/h", "speed")
    (0.2778, 0.0)
    """
    table = _table(dimension)
    text = " ".join(unit.split())
    for candidate in (text, _SPELLINGS.get(text.lower(), ""), text.lower()):
        if candidate in table:
            return table[candidate]
    raise UnitError(
        f'"{unit}" is not a unit of {dimension}.',
        fix=f"Write it as {_example(dimension)}.",
    )


def parse(text: object, dimension: str) -> float:
    """Read a quantity as people write it.

    Parameters
    ----------
    text : str
        A number with its unit; feet and inches may follow each other, and a
        plain fraction is understood ("1 5/8 in").
    dimension : str
        One of ``DIMENSIONS``.

    Returns
    -------
    float
        The value in the planner's unit for that dimension.

    Raises
    ------
    UnitError
        If it is a bare number, has no number, or a unit of another kind.

    Examples
    --------
    >>> parse("30 ft 6 in", "length")
    9.2964
    >>> parse("6 mil", "length")
    0.0001524
    >>> parse("0.25 in w.c.", "pressure")
    62.272
    >>> parse("14 F", "temperature difference"), parse("14 F", "temperature")
    (7.778, -10.0)
    """
    _table(dimension)
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise UnitError(
            f"{text!r} is not a quantity.", fix=f"Write it as {_example(dimension)}."
        )
    if isinstance(text, (int, float)):
        raise UnitError(
            f"{text} has no unit.",
            fix=f"Write a {dimension} in quotes, as {_example(dimension)}.",
        )
    parts = _parts(text.strip(), dimension)
    if len(parts) > 1 and dimension not in {"length", "duration"}:
        raise UnitError(
            f'"{text}" holds more than one quantity.', fix=f"Write it as {_example(dimension)}."
        )
    negative = parts[0][0] < 0
    total = 0.0
    for number, unit in parts:
        factor, offset = unit_factor(unit, dimension)
        total += (-abs(number) if negative and len(parts) > 1 else number) * factor + offset
    return total


def _parts(text: str, dimension: str) -> list[tuple[float, str]]:
    fraction = _FRACTION.match(text)
    if fraction:
        whole, top, bottom, unit, top2, bottom2, unit2 = fraction.groups()
        over = int(bottom or bottom2)
        if over:
            return [(float(whole or 0) + int(top or top2) / over, unit or unit2)]
    parts = []
    at = 0
    while at < len(text):
        found = _PART.match(text, at)
        if not found:
            break
        parts.append((float(found.group(1)), found.group(2)))
        at = found.end()
    if not parts or at < len(text.rstrip()):
        problem = "has no unit" if re.fullmatch(_NUMBER, text) else "cannot be read"
        raise UnitError(
            f'"{text}" {problem} as a {dimension}.', fix=f"Write it as {_example(dimension)}."
        )
    return parts


def convert(value: float, dimension: str, unit: str) -> float:
    """Turn a value in the planner's unit into another unit of the same dimension.

    Parameters
    ----------
    value : float
        In the planner's own unit [of ``dimension``].
    dimension : str
        One of ``DIMENSIONS``.
    unit : str
        The unit wanted.

    Returns
    -------
    float
        The value in ``unit``.

    Raises
    ------
    UnitError
        If the unit does not belong to the dimension.

    Examples
    --------
    >>> convert(2.2352, "speed", "mph")
    5.0
    """
    factor, offset = unit_factor(unit, dimension)
    return (value - offset) / factor


def show(
    value: float, dimension: str, system: str, *, decimals: int | None = None, unit: bool = True
) -> str:
    """Write a value for people, in the unit that the chosen system uses.

    Parameters
    ----------
    value : float
        In the planner's own unit; NaN is written "no data" [of ``dimension``].
    dimension : str
        One of ``DIMENSIONS``.
    system : {"si", "us"}
        Which units to write.
    decimals : int, optional
        Digits after the point, if other than the system's own.
    unit : bool
        Whether the unit follows the number.

    Returns
    -------
    str
        For example ``"5.0 mph"``.

    Examples
    --------
    >>> show(2.2352, "speed", "us"), show(62.272, "pressure", "us", unit=False)
    ('5.0 mph', '0.25')
    """
    if value != value:
        return "no data"
    name, digits = SHOWN[system][dimension]
    number = convert(value, dimension, name)
    digits = digits if decimals is None else decimals
    text = f"{number:.{digits}f}"
    if float(text) == 0.0:
        text = text.removeprefix("-")
    return f"{text} {name}" if unit else text
