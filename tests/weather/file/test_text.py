"""Files that are broken, packed wrong or not what they seem: one plain error each."""

from __future__ import annotations

import gzip
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.errors import UnknownFormat, WeatherError
from planner.weather.read import read_weather

SAMPLES = Path(__file__).parents[3] / "data" / "samples"
HEAD = b"time,temp_air,wind_speed,wind_gust,precipitation\n"
ROWS = b"".join(b"2026-04-20T%02d:00Z,10,2,4,0\n" % hour for hour in range(6))

BROKEN = {
    "empty": (b"", "empty", None),
    "only spaces": (b" \n\n \n", "empty", None),
    "picture": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(range(256)), "not a text file", None),
    "bytes without zero": (bytes(range(1, 30)) * 20, "not a text file", None),
    "web page": (b"<!DOCTYPE html><html><body>404</body></html>", "web page", None),
    "only a header": (HEAD, "no data below", None),
    "header without line break": (HEAD.strip(), "no data below", None),
    "header and blank lines": (HEAD + b"\n\n\n", "no data below", None),
    "a long line": (HEAD + ROWS + b"2026-04-20T06:00Z,10,2,4,0,7\n", "6 fields", 8),
    "a short line": (HEAD + b"2026-04-20T06:00Z,10,2\n" + ROWS, "3 fields", 2),
    "long and short": (
        HEAD + ROWS + b"2026-04-20T06:00Z,10,2,4,0,9\n2026-04-20T07:00Z,10,2,4\n",
        "6 fields",
        8,
    ),
    "a word for a number": (HEAD + ROWS.replace(b"03:00Z,10", b"03:00Z,ten"), '"ten"', 5),
    "a word in every row": (
        HEAD + ROWS.replace(b",4,", b",true,"),
        '"True" is not a number',
        2,
    ),
    "a decimal comma": (HEAD + ROWS.replace(b"03:00Z,10,", b"03:00Z,10,5,"), "6 fields", 5),
    "no such time": (HEAD + ROWS.replace(b"T03:00Z", b"T27:00Z"), "not a time", 5),
    "a US date": (HEAD + ROWS.replace(b"2026-04-20T03", b"4/20/2026 03"), "not a time", 5),
    "no time at all": (HEAD + ROWS.replace(b"2026-04-20T03:00Z", b""), "no time", 5),
    "year 9": (HEAD + ROWS.replace(b"2026-04-20T03", b"0009-04-20T03"), "not? a? ?", 5),
    "one bare time": (HEAD + ROWS.replace(b"T03:00Z", b"T03:00"), "no offset", 5),
    "no zone": (HEAD + ROWS.replace(b"Z,", b","), "no time zone", 2),
    "15 minutes": (
        HEAD + b"".join(b"2026-04-20T03:%02dZ,10,2,4,0\n" % m for m in (0, 15, 30, 45)),
        "15 minutes apart",
        None,
    ),
    "3 hours": (
        HEAD + b"".join(b"2026-04-20T%02d:00Z,10,2,4,0\n" % h for h in (0, 3, 6, 9)),
        "3 hours apart",
        None,
    ),
    "days": (
        HEAD + b"".join(b"2026-04-%02dT00:00Z,10,2,4,0\n" % d for d in (1, 2, 3)),
        "24 hours apart",
        None,
    ),
    "reports": (HEAD + ROWS.replace(b":00Z", b":53Z"), "53 minutes past", 2),
    "two winds": (HEAD.replace(b"gust", b"speed") + ROWS, "twice", 1),
    "a wrong century": (HEAD + ROWS + b"1926-04-20T06:00Z,10,2,4,0\n", "only 7 of these", None),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_file(tmp_path, name):
    """Each gives one plain message that names the file, the line if any, and a way out."""
    data, words, line = BROKEN[name]
    path = tmp_path / "broken.csv"
    path.write_bytes(data)
    with pytest.raises(WeatherError, match=words) as caught:
        read_weather(path)
    assert caught.value.exit_code == 3
    assert caught.value.file == str(path)
    assert caught.value.line == line
    assert caught.value.fix
    assert caught.value.as_dict()["schema"] == "error/1"


def test_no_such_file_and_folder(tmp_path):
    """A missing file and a folder say so."""
    with pytest.raises(WeatherError, match="no such file"):
        read_weather(tmp_path / "nothing.csv")
    with pytest.raises(WeatherError, match="folder"):
        read_weather(tmp_path)
    with pytest.raises(WeatherError, match="No weather file"):
        read_weather([])


def test_packed_wrong(tmp_path):
    """A torn gzip, a torn zip and a zip with two tables say so."""
    torn = tmp_path / "torn.csv.gz"
    torn.write_bytes(gzip.compress(HEAD + ROWS)[:-12])
    with pytest.raises(WeatherError, match="cannot be opened"):
        read_weather(torn)
    two = tmp_path / "two.zip"
    with zipfile.ZipFile(two, "w") as box:
        box.writestr("a.csv", HEAD + ROWS)
        box.writestr("b.csv", HEAD + ROWS)
    with pytest.raises(WeatherError, match=r"holds a\.csv, b\.csv"):
        read_weather(two)
    half = tmp_path / "half.zip"
    half.write_bytes(two.read_bytes()[:-30])
    with pytest.raises(WeatherError, match="cannot be opened"):
        read_weather(half)


def test_unknown_formats(tmp_path):
    """None fits: the known ones are listed. Two fit: both are named. A slip: the nearest."""
    path = tmp_path / "other.csv"
    path.write_bytes(b"date,wind\n2026-04-20,3\n")
    with pytest.raises(UnknownFormat, match="starts") as caught:
        read_weather(path)
    assert all(
        name in caught.value.fix for name in ("airports", "knmi", "openmeteo", "planner")
    )
    path.write_bytes(
        b"time,temp_air,temperature_2m,wind_speed,wind_speed_10m,precipitation\n"
        b"2026-04-20T00:00Z,1,1,2,2,0\n"
    )
    with pytest.raises(UnknownFormat, match="openmeteo and planner") as caught:
        read_weather(path)
    assert "--format" in caught.value.fix
    assert read_weather(path, format="planner").format == "planner"
    with pytest.raises(UnknownFormat, match="not knmi, which needs STN"):
        read_weather(path, format="knmi")
    with pytest.raises(UnknownFormat) as caught:
        read_weather(path, format="openmeteoo")
    assert caught.value.fix == "Use openmeteo."


def test_a_last_line_cut_short_is_left_out(tmp_path):
    """The last line has too few fields: left out, and the note names it."""
    path = tmp_path / "cut.csv"
    path.write_bytes(HEAD + ROWS + b"2026-04-20T06:00Z,1")
    weather = read_weather(path)
    assert weather.hours == 6
    note = next(note for note in weather.notes if note.code == "cut_line")
    assert "line 8" in note.text
    assert note.doubt


def test_a_last_line_without_a_break_is_noted(tmp_path):
    """All fields are there but the line has no end: read, and noted."""
    path = tmp_path / "cut.csv"
    path.write_bytes(HEAD + ROWS.rstrip())
    weather = read_weather(path)
    assert weather.hours == 6
    assert next(note.code for note in weather.notes) == "unended_line"


@pytest.mark.parametrize("coded", ["utf-8-sig", "utf-16", "latin-1", "cp1252"])
def test_other_encodings(tmp_path, coded):
    """A degree sign in any of the usual codings is a degree sign."""
    text = (HEAD + ROWS).decode().replace("temp_air", "temp_air (°C)")
    path = tmp_path / "coded.csv"
    path.write_bytes(text.encode(coded))
    weather = read_weather(path)
    assert weather.values["temp_air"][0, 0] == 10.0
    assert ("encoding" in [note.code for note in weather.notes]) == (coded[0] in "lc")


@pytest.mark.parametrize("ending", ["\r\n", "\r"])
def test_other_line_endings(tmp_path, ending):
    """Windows and old line ends read the same, and lines keep their numbers."""
    path = tmp_path / "ends.csv"
    path.write_bytes((HEAD + ROWS).replace(b"\n", ending.encode()))
    assert read_weather(path).hours == 6
    path.write_bytes((HEAD + ROWS.replace(b"03:00Z,10", b"03:00Z,x")).replace(b"\n", b"\r\n"))
    with pytest.raises(WeatherError) as caught:
        read_weather(path)
    assert caught.value.line == 5


def test_line_numbers_count_comments_and_blank_lines(tmp_path):
    """The line named is the line an editor shows."""
    lines = [b"# a comment", HEAD.strip(), b"", b"# another", *ROWS.split()]
    lines[-2] = lines[-2].replace(b",10,", b",ten,")
    path = tmp_path / "lines.csv"
    path.write_bytes(b"\n".join(lines) + b"\n")
    with pytest.raises(WeatherError, match="ten") as caught:
        read_weather(path)
    assert caught.value.line == lines.index(lines[-2]) + 1


def test_quoted_fields(tmp_path):
    """A quoted field with a comma in it is one field."""
    path = tmp_path / "quoted.csv"
    path.write_bytes(
        HEAD.replace(b"\n", b',"remark, if any"\n') + ROWS.replace(b"\n", b',"a, b"\n')
    )
    assert read_weather(path).hours == 6


def test_a_blank_line_inside_a_forecast(tmp_path):
    """Hours behind a blank line are not dropped in silence."""
    lines = (SAMPLES / "openmeteo.csv").read_text(encoding="utf-8").split("\n")
    path = tmp_path / "om.csv"
    path.write_text("\n".join([*lines[:20], "", *lines[20:]]), encoding="utf-8")
    with pytest.raises(WeatherError, match="in two") as caught:
        read_weather(path)
    assert caught.value.line == 21


@settings(
    deadline=None, max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data(), name=st.sampled_from(["openmeteo.csv", "planner.csv", "knmi.txt"]))
def test_damage_gives_a_table_or_a_plain_error(tmp_path, data, name):
    """Cut, doubled or overwritten anywhere, a file gives a table or one of our errors."""
    whole = (SAMPLES / name).read_bytes()
    start = data.draw(st.integers(0, len(whole)))
    stop = data.draw(st.integers(start, min(len(whole), start + 300)))
    filling = data.draw(
        st.sampled_from(
            [b"", whole[start:stop] * 2, b"\n", b",", b"-", b"9", b"\xff", b'"', b"T"]
        )
        | st.binary(max_size=8)
    )
    path = tmp_path / name
    path.write_bytes(whole[:start] + filling + whole[stop:])
    weather = refused = None
    try:
        weather = read_weather(path)
    except WeatherError as caught:
        refused = caught
    assert refused.fix if refused else weather.hours > 0
