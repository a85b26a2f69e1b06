"""What a report says in words, beside what its gauge says, in the three layouts of METARs."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from planner.weather.file.text import Raw
from planner.weather.read import read_weather
from tests.weather.formats.reported import TRACE

NO = math.nan
LCD = "STATION,DATE,REPORT_TYPE,HourlyDryBulbTemperature,HourlyWindSpeed"
LCD += ",HourlyPrecipitation,REM"
#: Header, station, what stands where there is nothing, and mm in one of its rain.
LAYOUTS = {
    "iem": ("station,valid,tmpf,sknt,p01i,metar", "QLKF", "M", 25.4),
    "lcd": (LCD, "QXW00099999", "", 1.0),
    "lcd-us": (LCD, "99999099999", "", 25.4),
}
DRY, BLANK = "0.00", ""
END = "BKN050 11/04 A2995 RMK AO2 SLP120"
PLAIN = f"10SM {END}"
layouts = pytest.mark.parametrize("layout", list(LAYOUTS))


def read(layout, *told):
    """Read hourly reports, each with what its gauge says and its text from the wind on."""
    head, station, missing, _ = LAYOUTS[layout]
    lines = [head]
    for hour, (gauge, words) in enumerate(told):
        when = dt.datetime(2026, 5, 4, 0, 53, tzinfo=dt.UTC) + dt.timedelta(hours=hour)
        written = f"{when:%Y-%m-%d %H:%M}" if layout == "iem" else f"{when:%Y-%m-%dT%H:%M:%S}"
        cells = [station, written, *([] if layout == "iem" else ["FM-15"]), "9", "4"]
        report = f"METAR QLKF {when:%d%H%M}Z 23004KT {words}"
        lines.append(",".join([*cells, gauge or missing, report]))
    weather = read_weather(Raw(name="r.csv", data=("\n".join(lines) + "\n").encode()))
    assert weather.format == layout
    assert weather.hours == len(told)
    return weather


def rain(layout, gauge, words):
    """Give the rain of some reports with one reading of the gauge, dry ones between [mm]."""
    told = [pair for each in words for pair in ((gauge, each), (DRY, PLAIN))]
    found = read(layout, *told).values["precipitation"][0]
    assert not found[1::2].any()
    return dict(zip(words, found[::2].tolist(), strict=True))


FALLING = ("-RA", "RA", "+RA", "-DZ", "DZ", "-SN", "SN", "+SN", "UP", "-SHRA", "SHRA", "TSRA")
FALLING += ("+TSRA", "-FZRA", "-FZDZ", "-RASN", "SHSN", "-RADZ", "-DZRA", "-SNRA", "-FZRAPL")
FALLING += ("PL", "-PLRA", "SHPL", "SG", "GS", "VCTS -RA", "R36/3500V4000FT -RA BR")
SINCE = ("RAB05", "RAB05E22", "DZB12", "SNB0458", "UPB20E31", "RAB05SNE20", "RAE02", "DZE11")
SINCE += ("SNE07", "SNEMM", "RAE09B29E43", "TSB10RAB12E30")
ELSEWHERE = ("VCSH", "BLSN", "DRSN", "BR")
REMARKED = ("FZRANO", "SLPNO", "RVRNO PWINO", "CHINO", "SHRA DSNT NE", "VIRGA SW")


@layouts
@pytest.mark.parametrize("gauge", [DRY, BLANK])
def test_rain_in_words_is_a_trace_where_the_gauge_has_none(layout, gauge):
    """Whatever falls, in any mixture: wet ground, though the gauge says nought or nothing."""
    words = [f"10SM {group} {END}" for group in FALLING]
    assert rain(layout, gauge, words) == dict.fromkeys(words, TRACE)


@layouts
@pytest.mark.parametrize("gauge", [DRY, BLANK])
def test_rain_that_began_or_ended_within_the_hour(layout, gauge):
    """The remarks tell of it, although it is dry at the report."""
    words = [f"{PLAIN} {group} T01110044" for group in SINCE]
    assert rain(layout, gauge, words) == dict.fromkeys(words, TRACE)


@layouts
def test_other_words_make_no_rain(layout):
    """Near by, blown off the ground, of another sensor: the gauge's nought stands."""
    words = [f"10SM {group} {END}" for group in ELSEWHERE]
    words += [f"{PLAIN} {group}" for group in REMARKED]
    assert rain(layout, DRY, words) == dict.fromkeys(words, 0.0)


@layouts
def test_words_do_not_lessen_what_the_gauge_has(layout):
    """A measured sum is more than a trace."""
    words = f"10SM -RA {END}"
    assert rain(layout, "0.20", [words])[words] == pytest.approx(0.2 * LAYOUTS[layout][3])


@layouts
def test_without_words_a_silent_gauge_stays_silent(layout):
    """No word of rain is no dry hour."""
    assert math.isnan(rain(layout, BLANK, [PLAIN])[PLAIN])


@layouts
@pytest.mark.parametrize("gauge", [DRY, "0.20", "T"])
def test_a_gauge_that_is_out_measures_nothing(layout, gauge):
    """PNO: its number is missing, whatever it is; but words of rain are."""
    silent, wet = f"{PLAIN} PNO", f"10SM -RA {END} PNO"
    found = rain(layout, gauge, [silent, wet])
    assert math.isnan(found[silent])
    assert found[wet] == TRACE


@layouts
@pytest.mark.parametrize(
    ("words", "thunder"),
    [
        (PLAIN, 0.0),
        ("10SM TS BKN050 11/04 A2995", 1.0),
        ("10SM -TSRA BKN050 11/04 A2995", 1.0),
        ("10SM VCTS BKN050 11/04 A2995", 1.0),
        (f"{PLAIN} TSB20E41", 1.0),
        (f"{PLAIN} TSE05", 1.0),
        (f"{PLAIN} RAB02TSB05", 1.0),
        (f"{PLAIN} TSNO", NO),
        (f"{PLAIN} FZRANO TSNO $", NO),
        (f"{PLAIN} PNO", 0.0),
    ],
)
def test_thunder_in_words(layout, words, thunder):
    """Now, near by, or begun and ended since; not told where its sensor is out."""
    found = read(layout, (DRY, PLAIN), (DRY, words), (DRY, PLAIN)).values["thunder"][0]
    np.testing.assert_array_equal(found, [0.0, thunder, 0.0])
