"""Typical years: read by pvlib, and again from the lines themselves."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.errors import WeatherError
from planner.weather.file.typical import ONE_YEAR, read_typical

SAMPLES = Path(__file__).parents[3] / "data" / "samples"
EPW, TMY3 = (SAMPLES / name for name in ("epw.epw", "tmy3.csv"))


def epw_lines():
    """The rows below the eight lines of head, as numbers; the sixth field is no number."""
    rows = list(csv.reader(EPW.read_text().splitlines()))[8:]
    return np.array([[float(cell) for cell in (*row[:5], *row[6:])] for row in rows])


def tmy3_lines():
    """The rows below the header, by its names."""
    return list(csv.DictReader(TMY3.read_text().splitlines()[1:]))


def test_epw_again_from_its_lines():
    """Field by field, where the data dictionary counts: 7 air, 9 humidity, 22 wind, 34 rain."""
    table, meta = read_typical(EPW.read_text(), "epw", "f")
    lines = epw_lines()
    for name, field, missing in (
        ("temp_air", 7, 99.9),
        ("temp_dew", 8, 99.9),
        ("relative_humidity", 9, 999),
        ("pressure", 10, 999999),
        ("ghi", 14, 9999),
        ("wind_direction", 21, 999),
        ("wind_speed", 22, 999),
        ("precipitation", 34, 999),
    ):
        printed = lines[:, field - 2]  # fields are counted from 1, and one was left out
        expected = np.where(printed >= missing, np.nan, printed)
        np.testing.assert_array_equal(table[name], expected, err_msg=name)
    np.testing.assert_array_equal(table["cloud_cover"], 10.0 * lines[:, 21])
    assert table["wind_speed"].isna().sum() == 1
    assert float(meta["latitude"]) == 44.02
    assert float(meta["longitude"]) == -91.4
    assert float(meta["elevation"]) == 265.0
    assert meta["name"] == "Larkfield"


def test_tmy3_again_from_its_lines():
    """Column by column, by the names of the header; the sum over six hours is left out."""
    table, meta = read_typical(TMY3.read_text(), "tmy3", "f")
    lines = tmy3_lines()
    for name, head, scale in (
        ("temp_air", "Dry-bulb (C)", 1),
        ("temp_dew", "Dew-point (C)", 1),
        ("relative_humidity", "RHum (%)", 1),
        ("pressure", "Pressure (mbar)", 100),
        ("ghi", "GHI (W/m^2)", 1),
        ("wind_direction", "Wdir (degrees)", 1),
        ("wind_speed", "Wspd (m/s)", 1),
        ("cloud_cover", "TotCld (tenths)", 10),
    ):
        printed = np.array([float(row[head]) for row in lines])
        expected = np.where(printed == -9900, np.nan, printed * scale)
        np.testing.assert_allclose(table[name], expected, rtol=1e-12, err_msg=name)
    rain = [
        float(row["Lprecip depth (mm)"]) if row["Lprecip quantity (hr)"] == "1" else np.nan
        for row in lines
    ]
    np.testing.assert_array_equal(table["precipitation"], rain)
    assert meta["name"] == "LARKFIELD, INVENTED"
    assert "overlap" in meta["note.rain_over_hours"]


@pytest.mark.parametrize(("path", "kind"), [(EPW, "epw"), (TMY3, "tmy3")])
def test_hours_end_at_their_labels_in_one_year(path, kind):
    """1 o'clock on 30 April at UTC-6 is 07:00 UTC; both days are set in one year and follow."""
    table, meta = read_typical(path.read_text(), kind, "f")
    first = pd.Timestamp(f"{ONE_YEAR}-04-30T07:00Z")
    assert list(table.index) == list(pd.date_range(first, periods=48, freq="h"))
    assert "no record of any year" in meta["note.typical_year"]
    assert "2009 to 2014" in meta["note.typical_year"]


@pytest.mark.parametrize(("path", "kind"), [(EPW, "epw"), (TMY3, "tmy3")])
def test_a_year_of_its_own_is_kept(path, kind):
    """Where all rows are of one year the year stays; that it is no record is still said."""
    text = path.read_text().replace("2009", "2014")
    table, meta = read_typical(text, kind, "f")
    assert table.index[0].year == 2014
    assert "All months are of 2014" in meta["note.typical_year"]


def test_a_half_hour_zone():
    """Labels at +5:30 fall on the half hours of UTC."""
    text = EPW.read_text().replace(",-6.0,265.0", ",5.5,265.0")
    table, _ = read_typical(text, "epw", "f")
    assert table.index[0] == pd.Timestamp(f"{ONE_YEAR}-04-29T19:30Z")


@pytest.mark.parametrize(
    ("path", "kind", "line", "field"),
    [
        *[(EPW, "epw", 20, at) for at in (6, 7, 8, 9, 13, 20, 21, 22, 33, 34)],
        *[(TMY3, "tmy3", 20, at) for at in (4, 25, 31, 34, 37, 40, 43, 46, 64, 65)],
    ],
)
def test_a_word_among_the_numbers_is_named(path, kind, line, field):
    """The line and the field, whichever of those that are read it is."""
    lines = path.read_text().splitlines()
    cells = lines[line - 1].split(",")
    cells[field] = "12o5"
    lines[line - 1] = ",".join(cells)
    with pytest.raises(WeatherError) as caught:
        read_typical("\n".join(lines), kind, "year.epw")
    assert (caught.value.file, caught.value.line) == ("year.epw", line)
    assert '"12o5"' in caught.value.message


@pytest.mark.parametrize("field", [6, 7, 8, 9, 13, 20, 21, 22, 33, 34])
def test_an_empty_field_is_missing(field):
    """Older files leave rain empty; one empty field is one number less."""
    lines = EPW.read_text().splitlines()
    cells = lines[19].split(",")
    cells[field] = ""
    lines[19] = ",".join(cells)
    whole, _ = read_typical(EPW.read_text(), "epw", "f")
    table, _ = read_typical("\n".join(lines), "epw", "f")
    assert int((table.isna() & ~whole.isna()).sum().sum()) == 1


@pytest.mark.parametrize("field", range(4))
def test_a_date_in_words_is_named(field):
    """Year, month, day and hour of EPW."""
    lines = EPW.read_text().splitlines()
    cells = lines[19].split(",")
    cells[field] = "May"
    lines[19] = ",".join(cells)
    with pytest.raises(WeatherError, match="no date and hour") as caught:
        read_typical("\n".join(lines), "epw", "year.epw")
    assert (caught.value.file, caught.value.line) == ("year.epw", 20)


@pytest.mark.parametrize("column", range(2, 71))
def test_every_column_that_is_read_is_checked(column):
    """A word in any column of TMY3 is refused if the column is read, else it does no harm."""
    lines = TMY3.read_text().splitlines()
    cells = lines[19].split(",")
    cells[column] = "x"
    lines[19] = ",".join(cells)
    whole, _ = read_typical(TMY3.read_text(), "tmy3", "f")
    line = 20
    try:
        table, _ = read_typical("\n".join(lines), "tmy3", "f")
    except WeatherError as err:
        table, line = whole, err.line or 0
    assert line == 20
    pd.testing.assert_frame_equal(table, whole)


@pytest.mark.parametrize(
    ("path", "kind", "old", "new", "line", "words"),
    [
        (EPW, "epw", "LOCATION,Larkfield,", "LOCATION,", 1, "first line"),
        (EPW, "epw", ",44.02,", ",144.02,", 1, "nowhere"),
        (EPW, "epw", "DATA PERIODS,1,1", "DATA PERIODS,1,4", 8, "4 rows an hour"),
        (EPW, "epw", "2009,4,30,3,60", "2009,4,30,4,60", 11, "does not follow"),
        (EPW, "epw", "2009,4,30,3,60", "2008,2,29,3,60", 11, "29 February"),
        (TMY3, "tmy3", "04/30/2009,03:00", "04/30/2009,05:00", 5, "does not follow"),
        (TMY3, "tmy3", "Wspd (m/s)", "Wind (m/s)", 2, "lacks Wspd"),
        (TMY3, "tmy3", "-6.0,44.020", "noon,44.020", 1, "first line"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(path, kind, old, new, line, words):
    """Head, header and order of the hours."""
    text = path.read_text()
    assert old in text
    with pytest.raises(WeatherError, match=words) as caught:
        read_typical(text.replace(old, new), kind, "f")
    assert caught.value.line == line


@pytest.mark.parametrize(("path", "kind"), [(EPW, "epw"), (TMY3, "tmy3")])
def test_a_file_cut_off_is_refused(path, kind):
    """A last line that ends early, and a file that ends with its header."""
    lines = path.read_text().splitlines()
    cut = "\n".join([*lines[:-1], lines[-1][:40]])
    with pytest.raises(WeatherError, match="fields") as caught:
        read_typical(cut, kind, "f")
    assert caught.value.line == len(lines)
    head = 8 if kind == "epw" else 2
    with pytest.raises(WeatherError, match="no data below"):
        read_typical("\n".join(lines[:head]), kind, "f")


def test_a_mark_that_is_not_closed_stays_in_its_line():
    """In a file of a whole year, too, its line is named; so is a line without end."""
    year = [line for line in EPW.read_text().splitlines()[8:] for _ in range(100)]
    head = EPW.read_text().splitlines()[:8]
    year[50] = year[50].replace(",60,", ',60,"', 1)
    with pytest.raises(WeatherError, match="fields") as caught:
        read_typical("\n".join([*head, *year]), "epw", "f")
    assert caught.value.line == 59
    with pytest.raises(WeatherError, match="fields") as caught:
        read_typical("\n".join([*head, "x" * 200_000]), "epw", "f")
    assert caught.value.line == 9


def test_columns_in_another_order_are_found_by_name():
    """TMY3 written with its columns turned round reads the same."""
    lines = TMY3.read_text().splitlines()
    turned = [lines[0]]
    for line in lines[1:]:
        cells = line.split(",")
        turned.append(",".join([*cells[:2], *cells[:1:-1]]))
    table, _ = read_typical("\n".join(turned), "tmy3", "f")
    whole, _ = read_typical(TMY3.read_text(), "tmy3", "f")
    pd.testing.assert_frame_equal(table, whole)


def test_a_year_without_a_drop_has_no_rain():
    """Zeros throughout mean that rain was not recorded."""
    lines = EPW.read_text().splitlines()
    dry = [",".join([*line.split(",")[:-2], "0.0", "1.0"]) for line in lines[8:]]
    table, meta = read_typical("\n".join([*lines[:8], *dry]), "epw", "f")
    assert "precipitation" not in table
    assert "not recorded" in meta["note.no_rain"]


def test_rain_that_no_sky_holds_is_in_tenths():
    """120 in an hour are 12 mm, and all other hours are tenths too; 90 are 90 mm."""
    lines = EPW.read_text().splitlines()
    for heavy, scale in ((120, 0.1), (90, 1.0)):
        changed = [*lines]
        changed[9] = ",".join([*lines[9].split(",")[:-2], f"{heavy}", "1.0"])
        table, meta = read_typical("\n".join(changed), "epw", "f")
        expected = epw_lines()[:, 32]
        expected[1] = heavy
        expected[expected == 999] = np.nan
        np.testing.assert_allclose(table["precipitation"], scale * expected)
        assert ("note.rain_in_tenths" in meta) == (scale < 1)


@pytest.mark.parametrize("name", ["723170TYA.CSV", "703165TY.csv"])
def test_the_years_that_pvlib_ships(name):
    """Two real files: every hour once, wind and air as pvlib's own reader gives them."""
    pvlib = pytest.importorskip("pvlib")
    path = Path(pvlib.__file__).parent / "data" / name
    if not path.exists():
        pytest.skip(f"this pvlib ships no {name}")
    table, meta = read_typical(path.read_text(), "tmy3", name)
    theirs, about = pvlib.iotools.read_tmy3(str(path), map_variables=True)
    assert len(table) == 8760
    assert table.index.is_monotonic_increasing
    for column in ("temp_air", "wind_speed", "ghi", "relative_humidity"):
        np.testing.assert_array_equal(table[column], theirs[column])
    assert float(meta["latitude"]) == about["latitude"]
    clock = theirs.index.tz_convert("UTC")
    assert list(table.index[:8000].hour) == list(clock[:8000].hour)
    known = theirs["Lprecip quantity (hr)"].to_numpy() == 1
    assert "note.rain_in_tenths" in meta
    printed = theirs["Lprecip depth (mm)"].to_numpy(float)
    np.testing.assert_allclose(table["precipitation"][known], printed[known] / 10)
    assert table["precipitation"][~known].isna().all()
