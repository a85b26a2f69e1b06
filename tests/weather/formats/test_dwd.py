"""DWD hourly: four files of one station as one record, out of their archives too."""

from __future__ import annotations

import csv
import datetime as dt
import io
import itertools
import zipfile

import numpy as np
import pytest

from planner.errors import MissingColumn, SeveralPlaces, UnknownFormat, WeatherError
from planner.weather.read import read_weather
from tests.weather.formats.reckoned import NO, SAMPLES, check_hours, gust_of
from tests.weather.formats.reported import TRACE
from tests.weather.test_real import SHARED, needs_shared

KINDS = ("wind", "extreme_wind", "precipitation", "air_temperature")
PATHS = [SAMPLES / f"dwd_{kind}.txt" for kind in KINDS]


def table(kind):
    """One file by its header, blanks and all; -999 is none."""
    text = (SAMPLES / f"dwd_{kind}.txt").read_text()
    rows = list(csv.reader(io.StringIO(text), delimiter=";"))
    names = [cell.strip() for cell in rows[0]]
    return [dict(zip(names, (cell.strip() for cell in row), strict=True)) for row in rows[1:]]


def column(kind, name):
    """One column as numbers."""
    return [NO if row[name] == "-999" else float(row[name]) for row in table(kind)]


def reckoned():
    """Documented: the interval ends at MESS_DATUM, UTC; m/s, mm, °C."""
    wind = column("wind", "F")
    rain = zip(column("precipitation", "R1"), column("precipitation", "RS_IND"), strict=True)
    return {
        "wind_speed": wind,
        "wind_gust": gust_of(column("extreme_wind", "FX_911"), wind),
        "wind_direction": column("wind", "D"),
        "precipitation": [mm if mm or not fell else TRACE for mm, fell in rain],
        "temp_air": column("air_temperature", "TT_TU"),
        "relative_humidity": column("air_temperature", "RF_TU"),
    }


def test_again():
    """Every hour of the four files; 2026042000 is the hour that ends at midnight."""
    weather = read_weather(PATHS)
    assert table("wind")[0]["MESS_DATUM"] == "2026042000"
    check_hours(weather, "2026-04-19T23:00", **reckoned())
    assert (weather.kind, weather.gust_meaning) == ("observed", "hour maximum")
    assert weather.place.name == "station 99901"


@pytest.mark.parametrize("order", list(itertools.permutations(range(4)))[1::5])
def test_the_order_of_the_files_does_not_matter(order):
    """Each fills what the others lack, whichever comes first."""
    weather = read_weather([PATHS[at] for at in order])
    check_hours(weather, "2026-04-19T23:00", **reckoned())


def test_sums_and_largest_are_those_of_the_files():
    """Rain and gusts by the csv module alone."""
    weather = read_weather(PATHS)
    assert np.nansum(column("precipitation", "R1")) > 0
    assert np.nansum(weather.values["precipitation"]) == pytest.approx(
        np.nansum(column("precipitation", "R1"))
    )
    assert np.nanmax(weather.values["wind_gust"]) == np.nanmax(column("extreme_wind", "FX_911"))


def test_minus_999_is_counted_by_hours():
    """Two gusts of 48 hours are missing, not three quarters of the rows of four files."""
    notes = {note.code: note.text for note in read_weather(PATHS).notes}
    assert notes["gusts_missing"].startswith("2 of 48 gusts")
    told = " ".join(notes.values())
    assert "both the same" not in told
    assert "order of time" not in told


def test_one_file_alone_says_what_it_lacks():
    """The file of gusts has no wind, temperature or rain."""
    with pytest.raises(MissingColumn, match=r"air temperature.*mean wind.*rain"):
        read_weather(PATHS[1])


@pytest.mark.parametrize(("fell", "mm"), [("1", TRACE), ("0", 0.0), ("-999", 0.0)])
def test_a_sum_of_nought_in_which_it_rained(tmp_path, fell, mm):
    """RS_IND 1 says that it rained, R1 0.0 that less than a tenth fell: a trace, told so."""
    lines = PATHS[2].read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if ";   0.0;   0;" in line)
    lines[at] = lines[at].replace(";   0.0;   0;", f";   0.0;{fell:>4};")
    (tmp_path / "r.txt").write_text("\n".join(lines) + "\n")
    weather = read_weather([PATHS[0], PATHS[1], tmp_path / "r.txt", PATHS[3]])
    assert weather.values["precipitation"][0, at - 1] == mm
    before, after = (
        [note.text for note in w.notes if note.code == "trace"]
        for w in (read_weather(PATHS), weather)
    )
    assert (before != after) == (mm == TRACE)


def archive(path, kind, *, inside=None):
    """A file in the archive it comes in, beside what describes the station."""
    told = "Stations_id;Stationshoehe;Geogr.Breite;Geogr.Laenge\r\n99901;265;44.02;-91.40\r\n"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as box:
        box.writestr("Metadaten_Geographie_99901.txt", told.encode("latin-1"))
        box.writestr("Metadaten_Parameter_99901.txt", "Stations_ID;Parameter\r\n")
        name = inside or f"produkt_{kind}_stunde_20260420_20260421_99901.txt"
        box.writestr(name, (SAMPLES / f"dwd_{kind}.txt").read_bytes())
        box.writestr("Metadaten_Stationsname_99901.txt", "Stations_ID;Name\r\n99901;L\xe4\r\n")
        box.writestr("Metadaten_Parameter_99901.html", "<table></table>")


def test_as_they_are_downloaded(tmp_path):
    """Four archives, each with its Metadaten files beside the product."""
    paths = [tmp_path / f"stundenwerte_{kind}_99901_akt.zip" for kind in KINDS]
    for path, kind in zip(paths, KINDS, strict=True):
        archive(path, kind)
    weather, plain = read_weather(paths), read_weather(PATHS)
    assert weather.times.equals(plain.times)
    for name, values in plain.values.items():
        np.testing.assert_array_equal(weather.values[name], values, err_msg=name)


def test_an_archive_of_two_tables_is_refused(tmp_path):
    """Without a product in it nothing says which of several texts is meant."""
    archive(tmp_path / "a.zip", "wind", inside="Wind_99901.txt")
    with pytest.raises(WeatherError, match="zip"):
        read_weather(tmp_path / "a.zip")


def test_two_stations_do_not_merge(tmp_path):
    """The wind of another station is not this one's."""
    other = PATHS[0].read_text().replace("99901", "99902")
    (tmp_path / "w.txt").write_text(other)
    with pytest.raises(SeveralPlaces, match="99901, 99902"):
        read_weather([tmp_path / "w.txt", *PATHS[1:]])


def test_files_that_differ_say_so(tmp_path):
    """Two files with the same hours and other rain: the larger counts, and it is a doubt."""
    changed = PATHS[2].read_text().replace(";   0.0;", ";   0.7;", 1)
    assert changed != PATHS[2].read_text()
    (tmp_path / "r.txt").write_text(changed)
    weather = read_weather([*PATHS, tmp_path / "r.txt"])
    assert weather.values["precipitation"][0][0] == 0.7
    assert any(note.doubt and "differ" in note.code for note in weather.notes)


@pytest.mark.parametrize("figures", [8, 12])
def test_days_and_ten_minutes_are_not_hours(tmp_path, figures):
    """MESS_DATUM of a day has eight figures, of ten minutes twelve: not this format."""
    lines = PATHS[0].read_text().splitlines()
    first = dt.datetime(2026, 4, 20)  # noqa: DTZ001 - written, not compared
    out = [lines[0]]
    for at, line in enumerate(lines[1:]):
        cells = line.split(";")
        step = first + dt.timedelta(days=at, minutes=10 * at)
        cells[1] = step.strftime("%Y%m%d" if figures == 8 else "%Y%m%d%H%M")
        out.append(";".join(cells))
    (tmp_path / "d.txt").write_text("\n".join(out) + "\n")
    with pytest.raises(UnknownFormat):
        read_weather(tmp_path / "d.txt")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("2026042005", "2026042525", "no hour"),
        ("2026042005", "2026043105", "no date"),
        (";eor", ";;eor", "fields where the header has"),
        ("2026042005;    1;", "2026042005;    1;x", '"x'),
    ],
)
def test_a_broken_line_is_named(tmp_path, old, new, words):
    """The seventh line of the file of wind."""
    path = tmp_path / "w.txt"
    lines = PATHS[0].read_text().splitlines()
    assert old in lines[6]
    lines[6] = lines[6].replace(old, new)
    path.write_text("\n".join(lines) + "\n")
    with pytest.raises(WeatherError, match=words) as caught:
        read_weather([path, *PATHS[1:]])
    assert (caught.value.file, caught.value.line) == (str(path), 7)


@needs_shared
def test_the_layout_again(tmp_path):
    """The folder's two hours of gusts, beside made hours of the rest."""
    path = SHARED / "api_samples" / "dwd_hourly_gust_layout_SYNTHETIC.txt"
    made = []
    for head, cells in (
        ("QN_3;F;D", "10;3.0;200"),
        ("QN_8;R1;RS_IND;WRTR", "1;0.4;1;6"),
        ("QN_9;TT_TU;RF_TU", "1;5.5;80"),
    ):
        made.append(tmp_path / f"{len(made)}.txt")
        rows = [f"2667;{stamp};{cells};eor" for stamp in ("2019112700", "2019112701")]
        made[-1].write_text("\n".join([f"STATIONS_ID;MESS_DATUM;{head};eor", *rows]) + "\n")
    weather = read_weather([path, *made])
    check_hours(
        weather,
        "2019-11-26T23:00",
        wind_gust=[7.9, NO],
        wind_speed=[3.0, 3.0],
        precipitation=[0.4, 0.4],
        temp_air=[5.5, 5.5],
    )
