"""What a weather file gets wrong: refused, or mended with a line saying which rows and why.

Nothing is mended in silence. Temperature is filled over two hours at most;
wind, gust and rain never.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.errors import WeatherError
from planner.units import unit_factor
from planner.weather.table import COLUMN, Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.hourly.rows import Rows
    from planner.weather.table import Floats

# When a file is refused and when only doubted: assumed, no source, unless one is named.
_FALSE_SHARE: Final = 0.01  # of a column may be impossible before the column is [-]
_FALSE_FEW: Final = 2  # values may always be [-]
_MULTIPLE_SHARE: Final = 0.95  # of gusts the same multiple of the mean: not a gust [-]
_MULTIPLE_ROWS: Final = 20  # rows needed to say so [-]
_MULTIPLE_ROOM: Final = 0.005  # ratios this near are the same [-]
_MULTIPLE_SPREAD: Final = 1.5  # least ratio of the 90 % to the 10 % mean wind to say so [-]
# Of gusts below the mean before the column is refused; the worst of 916 archived forecasts
# of one model, issued 2023-10 to 2024-12 for New York, has 0.38 [-].
_BELOW_SHARE: Final = 0.5
_WARM: Final = 45.0  # a median air temperature above this is another unit [degC]
_KELVIN: Final = 180.0  # above this it is kelvin
_STORM: Final = 17.0  # a median mean wind above this is another unit [m/s]
_STORM_WEEK: Final = 12.0  # the same where the file spans a week or more [m/s]
_WINDY: Final = 10.0  # a median above this is doubted [m/s]
_MOVING: Final = 1.0  # a mean wind from here on cannot have a gust of 0 [m/s]
_FLAT_ROWS: Final = 72  # rows of one and the same wind needed to refuse it [-]
_ALOFT: Final = 5.0  # the wind at 100 m is at most so many times that at 10 m, usually [-]
_DEW_ROOM: Final = 1.0  # dew point this far above the air is doubted [K]
_SHOWN: Final = 5  # rows named in a note [-]
_STEPS: Final = ((1.0, "m/s"), (0.514444, "kn"), (0.44704, "mph"), (0.277778, "km/h"))
_ROUND_ROWS: Final = 24  # gusts needed to tell their step [-]


def refuse_false_gusts(rows: Rows) -> None:
    """Refuse a gust column that is the mean wind times a fixed number.

    Such a column comes from a slip between units (knots to mph is 1.15078) and
    says nothing about gusts, yet looks like one.

    Parameters
    ----------
    rows : Rows
        The rows read.

    Raises
    ------
    WeatherError
        If over 95 % of at least 20 gusts, at winds that differ, are within half a
        percent of the same multiple of the mean.
    """
    mean, gust = _pair(rows)
    moving = (mean > 0.0) & (gust > 0.0)
    if moving.sum() < _MULTIPLE_ROWS:
        return
    low, high = np.quantile(mean[moving], (0.1, 0.9))
    if high < _MULTIPLE_SPREAD * low:
        return
    ratio = gust[moving] / mean[moving]
    usual = float(np.median(ratio))
    share = float((np.abs(ratio / usual - 1.0) <= _MULTIPLE_ROOM).mean())
    if share <= _MULTIPLE_SHARE:
        return
    known = {1.15078: "knots to mph", 1.9438: "m/s to knots", 2.2369: "m/s to mph", 3.6: "km/h"}
    slip = next((name for x, name in known.items() if abs(usual / x - 1.0) < 0.001), "")
    raise WeatherError(
        f"The gust is {usual:.5g} times the mean wind in {share:.1%} of the hours"
        f"{f', as from {slip}' if slip else ''}: it is the mean wind again, not a gust.",
        fix="Take that column out and gusts will be estimated, or get a file of real gusts.",
        file=rows.files[0],
        key=rows.taken["wind_gust"].source.name,
    )


def check_values(rows: Rows, notes: list[Note]) -> Rows:
    """Look every value over: units, range, gust against mean, dew point against air.

    Parameters
    ----------
    rows : Rows
        The rows of one place.
    notes : list of Note
        What was mended or is doubted is added here.

    Returns
    -------
    Rows
        The rows with impossible values missing (NaN) and no gust below its mean.

    Raises
    ------
    WeatherError
        If a column is in another unit than it says, more than 1 % of it is
        impossible, or half of the gusts are below the mean.
    """
    _check_temperature_unit(rows)
    _check_shares(rows)
    rows = _drop_impossible(rows, notes)
    _check_flat_wind(rows)
    _check_wind_unit(rows, notes)
    _doubt_low_wind(rows, notes)
    rows = _raise_gusts(_drop_empty_gusts(rows, notes), notes)
    _doubt_dew(rows, notes)
    _note_trace(rows, notes)
    return rows


def gust_step(rows: Rows, notes: list[Note]) -> float:
    """Tell the step to which gusts are rounded, if they are whole numbers of a unit.

    Parameters
    ----------
    rows : Rows
        The rows of one place.
    notes : list of Note
        A step that was found is noted here.

    Returns
    -------
    float
        The step, 0 where none is seen [m/s].
    """
    if "wind_gust" not in rows.values:
        return 0.0
    gusts = rows.values["wind_gust"].ravel()
    gusts = gusts[~np.isnan(gusts)][:5000]
    if gusts.size < _ROUND_ROWS or np.unique(gusts).size < 4:
        return 0.0
    for step, unit in _STEPS:
        if (np.abs(gusts / step - np.round(gusts / step)) < 0.02).all():
            text = f"Gusts are given in whole {unit}: each may be half a step off."
            notes.append(Note(code="gust_steps", text=text))
            return step
    return 0.0


def raise_gusts(mean: Floats, gust: Floats) -> Floats:
    """Give gusts no smaller than the mean wind of their hour; a missing one stays missing.

    Parameters
    ----------
    mean, gust : numpy.ndarray
        Of the same hours [m/s].

    Returns
    -------
    numpy.ndarray
        The gusts [m/s].

    Examples
    --------
    >>> raise_gusts(np.array([2.0, 3.0, 3.0]), np.array([4.0, 2.5, np.nan]))
    array([ 4.,  3., nan])
    """
    return np.where(mean > gust, mean, gust)


def utc_text(time: np.datetime64) -> str:
    """Write a time of the table: "2026-05-04 06:00 UTC"."""
    return f"{str(time)[:16].replace('T', ' ')} UTC"


def plural(count: int, word: str) -> str:
    """Write a count with its word: "1 hour", "1,200 hours"."""
    return f"{count:,} {word}{'' if count == 1 else 's'}"


def _pair(rows: Rows) -> tuple[Floats, Floats]:
    empty = np.zeros((1, 0))
    if "wind_gust" not in rows.values or "wind_speed" not in rows.values:
        return empty, empty
    mean, gust = np.broadcast_arrays(rows.values["wind_speed"], rows.values["wind_gust"])
    return mean, gust


def _median(rows: Rows, name: str) -> float:
    value = rows.values.get(name)
    if value is None or np.isnan(value).all():
        return float("nan")
    return float(np.nanmedian(value))


def _check_temperature_unit(rows: Rows) -> None:
    middle = _median(rows, "temp_air")
    slip = ""
    if middle > _WARM:
        slip = "kelvin" if middle > _KELVIN else "degrees Fahrenheit"
    elif _fahrenheit_by_humidity(rows):
        slip = "degrees Fahrenheit"
    if slip:
        raise WeatherError(
            f"Half of the air temperatures are above {middle:.0f} degC by this file's unit"
            f"{'; they' if middle > _WARM else ', and with dew point and humidity they'} "
            f"look like {slip}.",
            fix='Give them in degC, or name the unit in the header, as "temp_air (F)".',
            file=rows.files[0],
            key=rows.taken["temp_air"].source.name,
        )


def _fahrenheit_by_humidity(rows: Rows) -> bool:
    """Say whether air, dew point and humidity agree in Fahrenheit only."""
    names = ("temp_air", "temp_dew", "relative_humidity")
    if not all(name in rows.values for name in names):
        return False
    air, dew, humidity = np.broadcast_arrays(*(rows.values[name] for name in names))
    known = (np.abs(air) < _KELVIN) & (np.abs(dew) < _KELVIN) & ~np.isnan(humidity)
    if known.sum() < _ROUND_ROWS:
        return False
    factor, offset = unit_factor("F", "temperature")
    air, dew, humidity = air[known], dew[known], humidity[known]
    off = [
        np.median(np.abs(_humidity(a, d) - humidity))
        for a, d in ((air, dew), (air * factor + offset, dew * factor + offset))
    ]
    return bool(off[0] > 5.0 and off[1] < 2.0)


def _humidity(air: Floats, dew: Floats) -> Floats:
    """Relative humidity by the Magnus formula over water (17.62, 243.12 degC) [%]."""
    return 100.0 * np.exp(17.62 * dew / (243.12 + dew) - 17.62 * air / (243.12 + air))


def _check_shares(rows: Rows) -> None:
    """Refuse percentages that are given as shares of one."""
    for name in ("relative_humidity", "cloud_cover", "precipitation_probability"):
        value = rows.values.get(name, np.zeros((1, 0)))
        value = value[~np.isnan(value)]
        if value.size >= _ROUND_ROWS and value.max() <= 1.0 and (value % 1.0 > 0.0).any():
            raise WeatherError(
                "No value is above 1; this looks like a share, not a percentage.",
                fix="Give it in %, from 0 to 100.",
                file=rows.files[0],
                key=rows.taken[name].source.name,
            )


def _drop_impossible(rows: Rows, notes: list[Note]) -> Rows:
    changed: dict[str, Floats] = {}
    for name, value in rows.values.items():
        column = COLUMN[name]
        wrong = (value < column.low) | (value > column.high)
        count = int(wrong.sum())
        if not count:
            continue
        taken = rows.taken[name]
        places = [
            f"{rows.where(row)}: {taken.printed(value[member, row])}"
            for member, row in np.argwhere(wrong)[:_SHOWN].tolist()
        ]
        more = f" and {count - _SHOWN} more" if count > _SHOWN else ""
        given = int((~np.isnan(value)).sum())
        span = f"{column.low:g} to {column.high:g} {column.unit}"
        if count > max(_FALSE_FEW, _FALSE_SHARE * given):
            raise WeatherError(
                f"{count:,} of {given:,} values lie outside {span} ({places[0]}).",
                fix="Check the unit of this column.",
                file=rows.files[0],
                key=taken.source.name,
            )
        text = f"{', '.join(places)}{more}: outside {span}, taken as missing."
        notes.append(Note(code="impossible", text=text, doubt=True))
        changed[name] = np.where(wrong, np.nan, value)
    return rows.with_values(**changed) if changed else rows


def _check_flat_wind(rows: Rows) -> None:
    """Refuse a mean wind that never changes: a column that was not filled."""
    wind = rows.values.get("wind_speed")
    if wind is None:
        return
    known, count = wind[~np.isnan(wind)], int((~np.isnan(wind)).any(axis=0).sum())
    if count >= _FLAT_ROWS and np.ptp(known) == 0.0:
        raise WeatherError(
            f"The mean wind is {known[0]:g} m/s in every one of {count:,} rows; no place has "
            "that.",
            fix="Check that this column was filled, and its unit.",
            file=rows.files[0],
            key=rows.taken["wind_speed"].source.name,
        )


def _doubt_low_wind(rows: Rows, notes: list[Note]) -> None:
    """Doubt a wind at 10 m that is far below the wind aloft."""
    low, aloft = _median(rows, "wind_speed"), _median(rows, "wind_speed_aloft")
    if aloft >= _WINDY / 2.0 and low < aloft / _ALOFT:
        text = (
            f"Half of the winds at 10 m are below {low:.1f} m/s, aloft {aloft:.1f} m/s: is the "
            "unit of one of them right?"
        )
        notes.append(Note(code="wind_aloft", text=text, doubt=True))


def _check_wind_unit(rows: Rows, notes: list[Note]) -> None:
    middle = _median(rows, "wind_speed")
    if not middle > _WINDY or rows.labels.size < _ROUND_ROWS:
        return
    text = f"Half of the mean winds are above {middle:.1f} m/s by this file's unit"
    week = rows.labels.size >= 7 * 24
    if middle > _STORM or (week and middle > _STORM_WEEK):
        raise WeatherError(
            f"{text}; no place has that. They look like km/h, mph or knots.",
            fix='Give them in m/s, or name the unit in the header, as "wind_speed (km/h)".',
            file=rows.files[0],
            key=rows.taken["wind_speed"].source.name,
        )
    text = f"{text}. A storm, or are they km/h, mph or knots?"
    notes.append(Note(code="wind_unit", text=text, doubt=True))


def _drop_empty_gusts(rows: Rows, notes: list[Note]) -> Rows:
    """Take a gust of 0 beside a wind as one that was not given."""
    mean, gust = _pair(rows)
    empty = (gust == 0.0) & (mean >= _MOVING)
    count = int(empty.any(axis=0).sum())
    if not count:
        return rows
    first = rows.where(int(np.flatnonzero(empty.any(axis=0))[0]))
    text = (
        f"{count:,} gusts are 0 while the wind blows (first: {first}): taken as not given, "
        "not as calm."
    )
    notes.append(Note(code="gusts_of_zero", text=text, doubt=True))
    return rows.with_values(wind_gust=np.where(empty, np.nan, gust))


def _raise_gusts(rows: Rows, notes: list[Note]) -> Rows:
    mean, gust = _pair(rows)
    below = mean > gust
    count, both = int(below.sum()), int((~np.isnan(mean + gust)).sum())
    if not count:
        return rows
    first = rows.where(int(np.flatnonzero(below.any(axis=0))[0]))
    text = f"{count:,} of {both:,} gusts are below the mean wind of their hour (first: {first})"
    if both >= _ROUND_ROWS and count > _BELOW_SHARE * both:
        raise WeatherError(
            f"{text}; a gust cannot be.",
            fix="Check the units of the two columns and that they are not swapped.",
            file=rows.files[0],
            key=rows.taken["wind_gust"].source.name,
        )
    notes.append(
        Note(code="gust_below_mean", text=f"{text}; they were raised to it.", doubt=True)
    )
    return rows.with_values(wind_gust=raise_gusts(mean, gust))


def _doubt_dew(rows: Rows, notes: list[Note]) -> None:
    if "temp_air" not in rows.values or "temp_dew" not in rows.values:
        return
    above = (rows.values["temp_dew"] - rows.values["temp_air"] > _DEW_ROOM).any(axis=0)
    places: NDArray[np.int64] = np.flatnonzero(above)
    if places.size:
        first = rows.where(int(places[0]))
        text = (
            f"The dew point is above the air in {plural(places.size, 'row')} (first: {first})."
        )
        notes.append(Note(code="dew_above_air", text=text, doubt=True))


def _note_trace(rows: Rows, notes: list[Note]) -> None:
    taken = rows.taken.get("precipitation")
    if taken is None or not taken.source.trace_value:
        return
    worth = taken.source.trace_value
    count = int((rows.values["precipitation"] == worth).sum())
    if count:
        text = f"{plural(count, 'row')} had a trace of rain; each is wet, with {worth:g} mm."
        notes.append(Note(code="trace", text=text))
