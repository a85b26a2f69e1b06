"""Error tables as files: TOML that can be read, followed by hand, and written by ``learn``."""

from __future__ import annotations

import itertools
import json
import math
import tomllib
from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from planner.errors import WeatherError
from planner.weather.miss.forecast_error import GAUSSIAN, ForecastError, Quantity
from planner.weather.miss.predictors import Known, predictors
from planner.weather.table import Weather

if TYPE_CHECKING:
    from collections.abc import Mapping

    Terms = Mapping[str, tuple[float, ...]]

SHIPPED: Final = "forecast_error.toml"
_RANGES: Final = {
    "latitude": (-90.0, 90.0),
    "longitude": (-180.0, 180.0),
    "cases": (0.0, 1e12),
    "gust_with_wind": (-1.0, 1.0),
    "air_with_rain": (-1.0, 1.0),
    "morning": (0.0, 1.0),
}
_MEANS: Final = ("rain_chance", "rain_chance_wet")  # needed to draw rain


@cache
def shipped_error() -> ForecastError:
    """Give the table that comes with the planner."""
    text = resources.files("planner.reference").joinpath(SHIPPED).read_text(encoding="utf-8")
    return _from_table(tomllib.loads(text))


def read_error(path: str | Path) -> ForecastError:
    """Read a table that ``learn`` has written.

    Parameters
    ----------
    path : str or pathlib.Path
        The TOML file.

    Returns
    -------
    ForecastError
        The table.

    Raises
    ------
    WeatherError
        If the file cannot be read, is not such a table, or lacks a number.
    """
    path = Path(path)
    fix = "Give a file written by `planner learn`, or leave --error out."
    try:
        return _from_table(tomllib.loads(path.read_text(encoding="utf-8")))
    except OSError as err:
        text = f"The error table cannot be read: {err.strerror or err}."
        raise WeatherError(text, fix=fix, file=str(path)) from err
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as err:
        raise WeatherError(f"It is not a TOML file: {err}.", fix=fix, file=str(path)) from err
    except KeyError as err:
        raise WeatherError(
            f"The error table has no {err}.", fix=fix, file=str(path), key=str(err.args[0])
        ) from err
    except (TypeError, ValueError) as err:
        text = f"The error table does not hold together: {err}."
        raise WeatherError(text, fix=fix, file=str(path)) from err


def error_text(error: ForecastError) -> str:
    """Write a table as TOML.

    Parameters
    ----------
    error : ForecastError
        The table.

    Returns
    -------
    str
        What ``read_error`` reads back, numbers to four figures.
    """
    lines = [
        "# How far forecasts were from what came. Every term is a predictor times a number",
        "# that depends on the lead; the numbers stand at the lead times `leads`, in days.",
        f"name = {_quoted(error.name)}",
        'kind = "measured"',
        f"source = {_quoted(error.source)}",
        f"truth = {_quoted(error.truth)}",
        f"months = [{', '.join(_quoted(month) for month in error.months)}]",
        f"cases = {error.cases}",
        f"latitude = {error.latitude}",
        f"longitude = {error.longitude}",
        f"leads = {_numbers(error.leads)}",
        f"gust_with_wind = {error.gust_with_wind:.4g}",
        f"air_with_rain = {error.air_with_rain:.4g}",
        f"morning = {error.morning:.4g}",
        f"rain_amount = {_numbers(error.rain_amount)}",
        "\n# Means of what may be missing.",
        "[neutral]",
        *(f"{name} = {number:.4g}" for name, number in error.neutral.items()),
    ]
    for name in (*GAUSSIAN, "rain"):
        quantity: Quantity = getattr(error, name)
        lines += [
            f"\n[{name}]",
            f"share = {quantity.share:.4g}",
            f"hours = {_numbers(quantity.hours)}",
            f"too_high = {_numbers(quantity.too_high)}",
            f"typical = {_numbers(quantity.typical)}",
        ]
        for part in ("where", "spread"):
            terms: Terms = getattr(quantity, part)
            if terms:
                lines.append(f"[{name}.{part}]")
                lines += [f"{term} = {_numbers(numbers)}" for term, numbers in terms.items()]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    """Write a TOML string; its escapes are those of JSON."""
    return json.dumps(text, ensure_ascii=False)


def _numbers(numbers: tuple[float, ...]) -> str:
    return f"[{', '.join(f'{number:.4g}' for number in numbers)}]"


def _from_table(table: dict[str, Any]) -> ForecastError:
    leads = tuple(float(day) for day in table["leads"])
    if len(leads) < 2 or any(a >= b for a, b in itertools.pairwise(leads)):
        raise ValueError("leads must be two or more, each later than the one before")
    amount = tuple(float(number) for number in table["rain_amount"])
    if len(amount) != 3:
        raise ValueError("rain_amount must be three numbers")
    _check(table)
    if table["truth"] not in {"analysis", "station"}:
        raise ValueError(f'truth is "{table["truth"]}", not "analysis" or "station"')
    return ForecastError(
        name=str(table["name"]),
        source=str(table["source"]),
        truth=table["truth"],
        months=tuple(str(month) for month in table["months"]),
        cases=int(table["cases"]),
        latitude=float(table["latitude"]),
        longitude=float(table["longitude"]),
        leads=leads,
        neutral={name: float(number) for name, number in table["neutral"].items()},
        gust_with_wind=float(table["gust_with_wind"]),
        air_with_rain=float(table["air_with_rain"]),
        morning=float(table["morning"]),
        rain_amount=(amount[0], amount[1], amount[2]),
        gust=_quantity(table["gust"], "gust", len(leads)),
        wind=_quantity(table["wind"], "wind", len(leads)),
        temp=_quantity(table["temp"], "temp", len(leads)),
        rain=_quantity(table["rain"], "rain", len(leads)),
    )


def _quantity(table: dict[str, Any], name: str, leads: int) -> Quantity:
    def terms(part: str) -> Terms:
        return {
            key: _row(numbers, f"{name}.{part}.{key}", leads)
            for key, numbers in table.get(part, {}).items()
        }

    hours = _row(table["hours"], f"{name}.hours", leads)
    if not 0.0 <= table["share"] <= 1.0 or min(hours) <= 0.0:
        raise ValueError(f"{name}: share must be from 0 to 1 and hours above 0")
    return Quantity(
        where=terms("where"),
        spread=terms("spread"),
        share=float(table["share"]),
        hours=hours,
        too_high=_row(table["too_high"], f"{name}.too_high", leads),
        typical=_row(table["typical"], f"{name}.typical", leads),
    )


def _row(numbers: list[float], name: str, leads: int) -> tuple[float, ...]:
    row = tuple(float(number) for number in numbers)
    if len(row) != leads or not all(np.isfinite(row)):
        raise ValueError(f"{name} must be {leads} numbers, one a lead time")
    return row


def _check(table: dict[str, Any]) -> None:
    """Refuse what would break, or count for nothing, only when it is used."""
    means = table["neutral"]
    if not isinstance(means, dict) or not set(_MEANS) <= set(means):
        raise ValueError(f"[neutral] must have {' and '.join(_MEANS)}")
    for key, (low, high) in _RANGES.items():
        if not low <= table[key] <= high:
            raise ValueError(f"{key} must be from {low:g} to {high:g}")
    for key in ("leads", "rain_amount"):
        if not all(map(math.isfinite, table[key])):
            raise ValueError(f"{key} must be numbers")
    if not all(map(math.isfinite, means.values())):
        raise ValueError("[neutral] must be numbers")
    for name in (*GAUSSIAN, "rain"):
        if min(table[name]["typical"]) <= 0.0:
            raise ValueError(f"{name}.typical must be above 0")
        terms = {**table[name].get("where", {}), **table[name].get("spread", {})}
        unknown = set(terms) - _names() - {"where"}
        if unknown:
            raise ValueError(f"{name}: there is no predictor {sorted(unknown)[0]}")


@cache
def _names() -> frozenset[str]:
    """Give the name of every predictor there is, from an hour that says nothing."""
    nothing = Weather(
        times=pd.DatetimeIndex(["2000-01-01T00:00Z"]),
        values={},
        weights=np.ones(1),
        kind="forecast",
        origin={},
    )
    return frozenset(predictors(nothing, Known(), longitude=0.0))
