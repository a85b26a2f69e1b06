"""Reading weather against pandas' own read of the same bytes.

    python tests/bench/reading.py [FOLDER]

Prints medians: ten days of JSON and CSV, fourteen years of hourly CSV, a year of station
reports with very many columns. With a FOLDER of real weather beside it, the station files
in ``station_samples`` are read too, six times over.
"""

import gzip
import io
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from planner.weather.file.text import Raw
from planner.weather.read import read_weather

SAMPLES = Path(__file__).parents[2] / "data" / "samples"
TURNS = 7
YEARS_14 = 126_240  # hours
YEAR = 12_000  # reports of a station


def seconds(action: Callable[[], object]) -> float:
    """Run it once [s]."""
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def compare(name: str, data: bytes, theirs: Callable[[io.BytesIO], object]) -> None:
    """Print the planner's time beside pandas' for the same bytes, turn by turn."""

    def ours() -> object:
        return read_weather(Raw(name=name, data=data))

    ours()  # the first time is not counted
    turns = [(seconds(ours), seconds(lambda: theirs(io.BytesIO(data)))) for _ in range(TURNS)]
    own, pandas = (1e3 * statistics.median(column) for column in zip(*turns, strict=True))
    print(f"{name:<28}{own:8.1f} ms, pandas {pandas:8.1f} ms, {own / pandas:5.2f} x")


def ten_days(spelled: str) -> bytes:
    """Give ten days in the layout of the sample of JSON or CSV."""
    draw, hours = np.random.default_rng(1), 240
    times = pd.date_range("2026-05-01", periods=hours, freq="h").strftime("%Y-%m-%dT%H:%M")
    names = {"temperature_2m": "°C", "wind_speed_10m": "m/s", "wind_gusts_10m": "m/s"}
    names |= {"precipitation": "mm", "relative_humidity_2m": "%", "cloud_cover": "%"}
    values = {n: np.round(draw.gamma(2.0, 2.0, hours), 1).tolist() for n in names}
    values["wind_gusts_10m"] = [3.0 + 2.0 * x for x in values["wind_speed_10m"]]
    if spelled == "json":
        import json

        told = {"latitude": 44.0, "longitude": -91.4, "utc_offset_seconds": 0}
        units, hourly = {"time": "iso8601", **names}, {"time": times.tolist(), **values}
        return json.dumps({**told, "hourly_units": units, "hourly": hourly}).encode()
    table = pd.DataFrame({"time": times, **{f"{n} ({u})": values[n] for n, u in names.items()}})
    head = "latitude,longitude,elevation,utc_offset_seconds\n44.0,-91.4,265,0\n\n"
    return (head + table.to_csv(index=False)).encode()


def fourteen_years() -> bytes:
    """Give fourteen years in the planner's own columns."""
    draw, rows = np.random.default_rng(1), YEARS_14
    wind = draw.gamma(2.0, 2.0, rows).round(1)
    table = {
        "time": pd.date_range("2011-01-01", periods=rows, freq="h").strftime("%Y-%m-%dT%H:%MZ"),
        "temp_air": draw.normal(10.0, 5.0, rows).round(1),
        "relative_humidity": draw.integers(40, 100, rows),
        "wind_speed": wind,
        "wind_gust": (1.5 * wind + draw.gamma(1.0, 1.0, rows)).round(1),
        "precipitation": np.where(draw.random(rows) < 0.1, 0.4, 0.0),
    }
    return ("# kind: observed\n" + pd.DataFrame(table).to_csv(index=False)).encode()


def station_year(text: str) -> bytes:
    """Give a station file with its two days again and again, and more columns."""
    head, *rows = text.splitlines()
    wide = head + "".join(f",Daily{at}" for at in range(100))
    body = []
    for copy in range(YEAR // len(rows) + 1):
        days = pd.date_range("2026-04-20", periods=2) + pd.Timedelta(days=2 * copy)
        for row in rows:
            dated = row.replace("2026-04-20", f"{days[0]:%Y-%m-%d}")
            dated = dated.replace("2026-04-21", f"{days[1]:%Y-%m-%d}")
            body.append(dated + "," * 100)
    return "\n".join([wide, *body, ""]).encode()


def run(folder: Path | None) -> None:
    """Print all comparisons."""
    compare("ten days of JSON", ten_days("json"), pd.read_json)
    compare("ten days of CSV", ten_days("csv"), lambda x: pd.read_csv(x, skiprows=3))
    compare("14 years of CSV", fourteen_years(), lambda x: pd.read_csv(x, comment="#"))
    text = (SAMPLES / "lcd.csv").read_text(encoding="utf-8")
    compare("a year of LCD", station_year(text), lambda x: pd.read_csv(x, low_memory=False))
    for path in sorted((folder or SAMPLES).glob("station_samples/LCD*.gz")):
        head, _, rows = gzip.decompress(path.read_bytes()).partition(b"\n")
        years = [str(year).encode() for year in range(2015, 2021)]
        again = [
            rows.replace(b",2023-", b",%b-" % y).replace(b",2020-", b",%b-" % y) for y in years
        ]
        data = b"\n".join([head, b"".join(again)])
        compare(path.name[:26], data, lambda x: pd.read_csv(x, low_memory=False))


if __name__ == "__main__":
    run(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
