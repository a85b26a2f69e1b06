"""Many weather files in a table: one row a file, in 80 columns of ASCII."""

from __future__ import annotations

import string
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.errors import PlannerError, WeatherError
from planner.report.screen.found_table import found_table, table_row
from planner.weather.archive import read_archive
from planner.weather.table import GustMeaning, Note, Weather
from tests.report.made_weather import weather_with

SAMPLES = Path(__file__).parents[2] / "data" / "samples"


def rows(text: str) -> list[str]:
    """Give the rows of a printed table, without titles and foot."""
    return text.split("\n\n", maxsplit=1)[0].split("\n")[1:]


def made(hours: int = 48, blank: int = 0, **more: object) -> Weather:
    gusts = np.ones(hours, bool)
    gusts[:blank] = False
    there = {"temp_air": np.ones(hours), "wind_speed": np.ones(hours), "wind_gust": gusts}
    return weather_with(there, **more)


def test_a_row_says_what_is_in_the_file() -> None:
    """Format, days, hours, what gusts are, how many of 100 are blank, doubts, by hand."""
    notes = (
        Note(code="wind_unit", text="A storm?", doubt=True),
        Note(code="gusts_missing", text="12 gusts are missing.", doubt=True),
        Note(code="sorted", text="Sorted."),
    )
    weather = made(48, 12, gust_meaning="10-minute maximum", notes=notes)
    [row] = rows(found_table([table_row("far/away/yard.csv", "", weather)]))
    assert row.split() == [
        "yard.csv", "plain", "2031-04-29", "2031-05-01", "48", "10", "min", "25", "1",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("meaning", "said"),
    [("hour maximum", "hour"), ("10-minute maximum", "10 min"), ("not said", "not said")],
)
def test_what_gusts_mean_in_a_word(meaning: GustMeaning, said: str) -> None:
    """Each meaning has its own word, and none of them is told as none."""
    [row] = rows(found_table([table_row("a.csv", "", made(gust_meaning=meaning))]))
    assert said in row
    assert "none" not in row


def test_a_file_without_gusts_has_none_and_no_share() -> None:
    """No gusts are not 100 of 100 blank ones."""
    [row] = rows(found_table([table_row("a.csv", "", made(48, 48))]))
    assert row.split()[-2:] == ["none", "0"]


def test_nearly_no_blank_gust_is_not_none() -> None:
    """One blank of 1000 is 1 of 100, none is 0."""
    text = found_table([table_row("a.csv", "", made(1000, x)) for x in (0, 1)])
    assert [row.split()[-2] for row in rows(text)] == ["0", "1"]


def test_a_refused_file_in_the_middle_leaves_the_others() -> None:
    """Its row says why in short, with the line; the rows around it are whole."""
    error = WeatherError("This time is no time at all. " * 9, file="b.csv", line=17)
    text = found_table(
        [
            table_row("a.csv", "", made()),
            table_row("b.csv", "", error),
            table_row("c.csv", "", made(72)),
        ]
    )
    first, middle, last = rows(text)
    assert middle.startswith("b.csv")
    assert "refused: line 17: This time is no time at all." in middle
    assert middle.endswith(" ...")
    assert (first.split()[4], last.split()[4]) == ("48", "72")


def test_an_archive_says_how_many_forecasts() -> None:
    """Three forecasts, issued on three days, as the sample's rows say."""
    file = SAMPLES / "archive.csv"
    [row] = rows(found_table([table_row(str(file), "", read_archive(file))]))
    assert "3 forecasts, issued 2026-04-28 to 2026-04-30" in row


def test_files_of_one_name_keep_their_folders() -> None:
    """Two weather.csv are told apart by what is before them; a third stays short."""
    names = ("north/weather.csv", "south/weather.csv", "north/rain.csv")
    text = found_table([table_row(name, "", made()) for name in names])
    assert [row.split()[0] for row in rows(text)] == [*names[:2], "rain.csv"]


def test_places_of_a_file_stand_behind_its_name() -> None:
    """Each place is a row; a long name gives way, the place is whole."""
    file = "hourly_weather_of_three_airports_2013.csv"
    text = found_table([table_row(file, x, made()) for x in ("EWR", "JFK")])
    heads = [row.split(" plain")[0].rstrip() for row in rows(text)]
    assert [x.split()[-1] for x in heads] == ["EWR", "JFK"]
    assert all(x.startswith("hourly") for x in heads)


def test_long_names_that_differ_somewhere_stay_different() -> None:
    """Names alike at both ends, alike at the start, alike at the end."""
    files = [
        *(f"uurgeg_{x}_2021-2030_and_something_more.zip" for x in (215, 235, 240)),
        *(f"open_meteo_2023-{x}_0600_analysis.json" for x in ("10-05", "11-05", "11-06")),
        *(f"a_very_long_beginning_that_is_the_same_{x}.csv" for x in range(3)),
    ]
    text = found_table([table_row(x, "", made()) for x in files])
    assert len({row.split()[0] for row in rows(text)}) == len(files)


name_letters = st.text(
    string.ascii_letters + string.digits + "_-. éß–", min_size=1, max_size=70
)


@settings(deadline=None, max_examples=60)
@given(
    files=st.lists(
        st.tuples(name_letters, name_letters | st.just(""), st.integers(0, 3)),
        min_size=1,
        max_size=8,
    ),
    message=st.text(max_size=200),
)
def test_any_table_fits_80_columns_of_ascii(
    files: list[tuple[str, str, int]], message: str
) -> None:
    """Any names, places and messages: one line a file, none too long, no trailing blank."""
    long = made(200_000, gust_meaning="not said")
    found: list[Weather | PlannerError] = [
        made(),
        WeatherError(message, line=123_456),
        replace(long, format="a-format-with-a-long-name"),
        made(48, 48),
    ]
    text = found_table([table_row(name, place, found[x]) for name, place, x in files])
    lines = text.split("\n")
    assert all(len(line) <= 80 for line in lines)
    assert text.isascii()
    assert all(line == line.rstrip() for line in lines)
    assert len(rows(text)) == len(files)


@pytest.mark.parametrize("first", range(1, 8))
def test_a_long_reason_is_cut_where_the_line_ends(first: int) -> None:
    """Words of one letter behind one of any length: as many as there is room for, none more."""
    error = WeatherError("y" * first + " x" * 90)
    [row] = rows(found_table([table_row("b.csv", "", error)]))
    assert 79 <= len(row) <= 80
    assert row.endswith("x ...")
