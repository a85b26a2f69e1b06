"""US Climate Reference Network: five minutes with wind at 1.5 m, hours without wind."""

from __future__ import annotations

import datetime as dt
import math
import os
from collections import defaultdict
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.errors import GapTooLong, MissingColumn, WeatherError
from planner.weather.read import read_weather

SAMPLE = Path(__file__).parents[3] / "data" / "samples" / "uscrn.txt"
SHARED = Path(
    os.environ.get("FILM_WEATHER", Path(__file__).parents[4] / "shared" / "weather")
).resolve()
#: Log law over grass, roughness 0.03 m, from 1.5 m to 10 m.
RAISED = math.log(10.0 / 0.03) / math.log(1.5 / 0.03)
#: Widths of the fields of subhourly01, a blank between each, by the network's README.
WIDTHS = (5, 8, 4, 8, 4, 6, 7, 7, 7, 7, 6, 1, 7, 1, 1, 5, 1, 7, 7, 5, 1, 6, 1)
FIELDS = {
    "temp_air": 8,
    "precipitation": 9,
    "ghi": 10,
    "relative_humidity": 15,
    "wind_speed": 21,
}
FLAGGED = ("ghi", "relative_humidity", "wind_speed")  # their flag follows them


def cut(line):
    """Cut a line at the widths."""
    first = [sum(WIDTHS[:at]) + at for at in range(len(WIDTHS))]
    return [line[begin : begin + width] for begin, width in zip(first, WIDTHS, strict=True)]


def again(path):
    """Read a file anew by the widths of its fields; give the parts of each hour."""
    hours = defaultdict(lambda: defaultdict(list))
    for line in path.read_text().splitlines():
        cells = cut(line)
        end = dt.datetime.strptime(cells[1] + cells[2], "%Y%m%d%H%M").replace(tzinfo=dt.UTC)
        begin = end - dt.timedelta(minutes=5)
        here = hours[begin.replace(minute=0)]
        for name, at in FIELDS.items():
            number = float(cells[at])
            good = number > -99.0 and (name not in FLAGGED or cells[at + 1] == "0")
            here[name].append(number if good else np.nan)
    return hours


def test_sample_hour_by_hour():
    """Means of twelve parts, sums of rain, wind raised to 10 m and said so."""
    weather, parts = read_weather(SAMPLE), again(SAMPLE)
    assert weather.format == "uscrn"
    assert list(parts) == [t.to_pydatetime() for t in weather.times]
    for at, hour in enumerate(parts):
        assert len(parts[hour]["temp_air"]) == 12
        for name in FIELDS:
            values = np.array(parts[hour][name])
            if name == "precipitation":
                wanted = values.sum()  # NaN where a part is missing
            else:
                wanted = np.nanmean(values) * (RAISED if name == "wind_speed" else 1.0)
            found = weather.values[name][0, at]
            np.testing.assert_allclose(found, wanted, rtol=1e-6, err_msg=f"{name} {hour}")
    assert weather.gust_meaning == "none"
    assert "wind_gust" not in weather.values
    assert (weather.place.latitude, weather.place.longitude) == (44.03, -91.41)
    told = {note.code: note for note in weather.notes}
    assert told["wind_height"].doubt
    assert "1.5 m" in told["wind_height"].text
    assert "no_gusts" in told


def test_rain_is_conserved(tmp_path):
    """The total of the hours is that of the five-minute parts; a lost part loses its hour."""
    parts = again(SAMPLE)
    lost = [h for h, x in parts.items() if np.isnan(x["precipitation"]).any()]
    assert len(lost) == 1
    weather = read_weather(SAMPLE)
    rain = pd.Series(weather.values["precipitation"][0], index=weather.times)
    assert rain.index[rain.isna()].to_pydatetime().tolist() == lost
    text = SAMPLE.read_text().splitlines()
    text = [x[:65] + x[65:72].replace("-9999.0", "    0.0") + x[72:] for x in text]
    (tmp_path / "whole.txt").write_text("\n".join(text) + "\n")
    total = sum(np.nansum(x["precipitation"]) for x in parts.values())
    assert total > 1.0
    whole = read_weather(tmp_path / "whole.txt").values["precipitation"]
    assert np.nansum(whole) == pytest.approx(total)


def test_marked_wind_is_not_taken(tmp_path):
    """The 9.87 m/s with flag 3 does not count; with flag 0 it would be seen."""
    text = SAMPLE.read_text()
    assert "  9.87 3" in text
    (tmp_path / "good.txt").write_text(text.replace("  9.87 3", "  9.87 0"))
    marked, good = read_weather(SAMPLE), read_weather(tmp_path / "good.txt")
    assert (good.values["wind_speed"] - marked.values["wind_speed"]).max() > 0.5


def test_broken_cell(tmp_path):
    """A word among the numbers: file, line and column are named."""
    lines = SAMPLE.read_text().splitlines()
    lines[30] = lines[30][:57] + "   4.x1" + lines[30][64:]
    (tmp_path / "broken.txt").write_text("\n".join(lines) + "\n")
    with pytest.raises(WeatherError, match=r'"4\.x1" is not a number') as caught:
        read_weather(tmp_path / "broken.txt")
    assert (caught.value.line, caught.value.key) == (31, "AIR_TEMPERATURE")
    assert str(caught.value.file).endswith("broken.txt")


HOURLY = (
    "99999 20260420 {h:02d}00 20260419 {l:02d}00  2.622  -91.41   44.03 {t:7.1f} {m:7.1f} "
    "{t:7.1f} {t:7.1f} {p:7.1f} {s:6.0f} 0 {s:6.0f} 0 {s:6.0f} 0 C {t:7.1f} 0 {t:7.1f} 0 "
    "{t:7.1f} 0 {r:5.0f} 0   0.214   0.215   0.220   0.231   0.240     6.1     6.0     5.9"
    "     5.8     5.7\n"
)


def hourly_lines(count):
    """Give invented lines of hourly02, 38 fields each, by the network's README."""
    lines = [
        HOURLY.format(h=h, l=h + 12, t=4.0 + h, m=3.5 + h, p=0.2 * h, s=10.0 * h, r=80 - h)
        for h in range(1, count + 1)
    ]
    assert all(len(line.split()) == 38 for line in lines)
    return lines


def test_hourly_product_has_no_wind(tmp_path):
    """hourly02 is recognised, and what it lacks is said plainly."""
    (tmp_path / "hourly.txt").write_text("".join(hourly_lines(9)))
    with pytest.raises(MissingColumn, match="no column of mean wind") as caught:
        read_weather(tmp_path / "hourly.txt")
    assert "T_HR_AVG" in str(caught.value)


@pytest.mark.skipif(not SHARED.is_dir(), reason=f"no weather records at {SHARED}")
def test_real_lines(tmp_path):
    """Four real lines are a quarter of an hour: no hour is made of them. Twelve are one."""
    path = SHARED / "api_samples" / "uscrn_subhourly_CRNS0101-05-2019-AZ_Tucson_11_W.txt"
    with pytest.raises(GapTooLong, match="no whole hour"):
        read_weather(path)
    lines = path.read_text().splitlines()[1:]
    times = [f"{h:02d}{m:02d}" for h in (16,) for m in range(5, 60, 5)] + ["1700"]
    hour = [lines[at % 3][:15] + time + lines[at % 3][19:] for at, time in enumerate(times)]
    (tmp_path / "hour.txt").write_text("\n".join(hour) + "\n")
    weather = read_weather(tmp_path / "hour.txt")
    assert weather.times[0] == pd.Timestamp("2019-01-01T16:00Z")
    assert weather.values["temp_air"][0, 0] == pytest.approx((3.3 + 3.5 + 4.0) / 3)
    mean = (0.36 + 0.53 + 0.64) / 3
    assert weather.values["wind_speed"][0, 0] == pytest.approx(mean * RAISED, rel=1e-6)
    assert weather.values["precipitation"][0, 0] == 0.0
    assert (weather.place.latitude, weather.place.longitude) == (32.24, -111.17)
