"""One table written in any of the ways that spreadsheets write it reads the same."""

from __future__ import annotations

import csv
import gzip
import io
import zipfile

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.errors import WeatherError
from planner.weather.file.text import Raw
from planner.weather.read import read_weather
from tests.weather.formats.reckoned import SAMPLES

NAMES = ("openmeteo", "meteostat", "planner")
USUAL = {name: read_weather(SAMPLES / f"{name}.csv") for name in NAMES}
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "latin-1")


def rewritten(text, *, separator, comma, quoted):
    """A table with other separators, decimal commas and quotation marks; comments stay."""
    out = io.StringIO()
    writer = csv.writer(
        out,
        delimiter=separator,
        lineterminator="\n",
        quoting=csv.QUOTE_ALL if quoted else csv.QUOTE_MINIMAL,
    )
    for line in text.splitlines():
        if line.startswith("#") or not line:
            out.write(f"{line}\n")
            continue
        cells = next(csv.reader([line]))
        if comma:
            cells = [cell.replace(".", ",") if is_number(cell) else cell for cell in cells]
        writer.writerow(cells)
    return out.getvalue()


def is_number(cell):
    """A cell that a spreadsheet would write with its own decimal mark."""
    try:
        float(cell)
    except ValueError:
        return False
    return True


def packed(data, how):
    """As it is, gzip, or alone in a zip."""
    if how == "gz":
        return gzip.compress(data)
    if how == "zip":
        box = io.BytesIO()
        with zipfile.ZipFile(box, "w") as file:
            file.writestr("table.csv", data)
        return box.getvalue()
    return data


@settings(max_examples=60, deadline=None)
@given(
    name=st.sampled_from(NAMES),
    separator=st.sampled_from([",", ";", "\t"]),
    comma=st.booleans(),
    quoted=st.booleans(),
    encoding=st.sampled_from(ENCODINGS),
    ending=st.sampled_from(["\n", "\r\n", "\r"]),
    packing=st.sampled_from(["", "gz", "zip"]),
)
def test_any_spelling_reads_the_same(name, separator, comma, quoted, encoding, ending, packing):
    """Separator, decimal comma, quotation marks, encoding, line ends, packing."""
    text = (SAMPLES / f"{name}.csv").read_text(encoding="utf-8")
    if comma and separator == ",":
        comma = False  # such a table cannot be told from one with more columns
    text = rewritten(text, separator=separator, comma=comma, quoted=quoted)
    data = text.replace("\n", ending).encode(encoding)
    weather = read_weather(Raw(name="f", data=packed(data, packing)))
    usual = USUAL[name]
    assert weather.format == usual.format
    assert weather.times.equals(usual.times)
    assert set(weather.values) == set(usual.values)
    for column, values in usual.values.items():
        np.testing.assert_array_equal(weather.values[column], values, err_msg=column)
    assert weather.place == usual.place
    assert weather.issued == usual.issued


@settings(max_examples=40, deadline=None)
@given(
    gusts=st.lists(
        st.floats(0.0, 40.0, width=32).map(lambda x: round(float(x), 3)),
        min_size=3,
        max_size=30,
    ),
    separator=st.sampled_from([",", ";", "\t"]),
    comma=st.booleans(),
)
def test_any_numbers_keep_their_last_digit(gusts, separator, comma):
    """Numbers drawn at random, as the separator and the decimal mark have them."""
    comma = comma and separator != ","
    rows = [
        ["time", "temp_air", "wind_speed", "wind_gust", "precipitation"],
        *(
            [f"2026-05-{4 + h // 24:02d}T{h % 24:02d}:00Z", "-0.5", "0", repr(gust), "0.1"]
            for h, gust in enumerate(gusts)
        ),
    ]
    if comma:
        rows = [[c.replace(".", ",") if is_number(c) else c for c in row] for row in rows]
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\n").writerows(rows)
    weather = read_weather(Raw(name="f", data=out.getvalue().encode()))
    assert weather.values["wind_gust"][0].tolist() == gusts
    assert weather.values["temp_air"][0].tolist() == [-0.5] * len(gusts)
    assert weather.values["precipitation"][0].tolist() == [0.1] * len(gusts)


@pytest.mark.parametrize("separator", [";", "\t"])
def test_a_broken_line_is_named_in_any_spelling(separator):
    """A word among numbers in a table saved again: the line of the file as it is."""
    text = (SAMPLES / "planner.csv").read_text(encoding="utf-8")
    lines = rewritten(text, separator=separator, comma=True, quoted=False).splitlines()
    at = next(i for i, line in enumerate(lines) if "2026-04-20T10:00" in line)
    cells = lines[at].split(separator)
    cells[3] = "windy"
    lines[at] = separator.join(cells)
    with pytest.raises(WeatherError, match='"windy" is not a number') as caught:
        read_weather(Raw(name="f.csv", data="\n".join(lines).encode()))
    assert (caught.value.file, caught.value.line) == ("f.csv", at + 1)


def test_decimal_commas_between_commas_are_refused():
    """A table whose numbers fall in two is not read as one with more columns."""
    text = (SAMPLES / "planner.csv").read_text(encoding="utf-8")
    text = rewritten(text, separator=";", comma=True, quoted=False).replace(";", ",")
    with pytest.raises(WeatherError) as caught:
        read_weather(Raw(name="f.csv", data=text.encode()))
    assert caught.value.line is not None
