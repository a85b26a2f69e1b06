"""The picture of the hours that hold a number: what it draws, writes and leaves out."""

from __future__ import annotations

import json
import re
from itertools import pairwise
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from planner.report.availability import shares
from planner.report.picture.availability import availability_figure
from planner.report.save import INSPECT_SUFFIXES, inspect_file
from planner.weather.table import Weather
from tests.report.made_weather import ALL, weather_with

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PHONE = 4.7  # the widest picture that is read on a phone without turning it [in]


def panels(figure: Figure) -> list[Axes]:
    """Give the panels; the first axes are the page."""
    return figure.axes[1:]


def said(figure: Figure) -> list[str]:
    """Give what is written on the page."""
    return [
        x.get_text() for x in sorted(figure.axes[0].texts, key=lambda x: x.get_position()[1])
    ]


def scattered(hours: int, **more: Any) -> Weather:
    """Give weather with blanks all over, heavier by night."""
    random = np.random.default_rng(5)
    clock = np.arange(hours) % 24
    there = {name: random.random(hours) < 0.2 + 0.8 * (clock > 6) for name in ALL}
    return weather_with(there, **more)


def inked(panel: Axes) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Give the cells that a panel covers with ink, from its drawn paths."""
    rows = round(max(panel.get_ylim()))
    cells = np.zeros((rows, 24), bool)
    for shapes in panel.collections:
        if len(shapes.get_facecolor()) == 0 or shapes.get_offsets().size > 2:
            continue  # lines, and the dots
        for path in shapes.get_paths():
            (left, top), (right, low) = path.vertices.min(axis=0), path.vertices.max(axis=0)
            cells[round(top) : round(low), round(left) : round(right)] = True
    return cells


@pytest.mark.parametrize("hours", [240, 50 * 24, 400 * 24, 1060 * 24, 1500 * 24])
def test_it_inks_the_cells_that_hold_a_number_and_dots_those_that_hold_none(hours: int) -> None:
    """Every cell is inked, dotted, or outside the file; from the drawn shapes."""
    weather = scattered(hours, first="2031-04-29 12:00")  # neither begins nor ends with a day
    found = shares(weather, ALL, time_zone="America/Chicago")
    figure = availability_figure(weather, time_zone="America/Chicago")
    assert len(panels(figure)) == 4
    for panel, name in zip(panels(figure), ALL, strict=True):
        share = found.share(name)
        assert (inked(panel) == (np.nan_to_num(share) > 0)).all()
        dots = {
            (int(y), int(x))
            for shapes in panel.collections
            if shapes.get_offsets().size > 2
            for x, y in shapes.get_offsets()
        }
        assert dots == {(int(x), int(y)) for x, y in np.argwhere(share == 0.0)}


def test_the_share_is_written_where_a_cell_has_room_and_only_there() -> None:
    """Twelve rows: a number wherever some hours hold one and some do not; 36 rows: none."""
    weather = scattered(1500 * 24)
    found = shares(weather, ALL, time_zone="UTC")
    for panel, name in zip(panels(availability_figure(weather)), ALL, strict=True):
        written = {
            (int(y), int(x)): int(text.get_text())
            for text in panel.texts
            for x, y in [text.get_position()]
        }
        share = found.share(name)
        some = {(int(x), int(y)) for x, y in np.argwhere((share > 0.0) & (share < 1.0))}
        assert set(written) == some
        assert all(
            abs(number - 100 * share[cell]) <= 0.5 or number in {1, 99}
            for cell, number in written.items()
        )
    low = panels(availability_figure(scattered(1060 * 24)))
    assert [len(x.texts) for x in low] == [0, 0, 0, 0]


def test_nearly_all_is_never_written_or_drawn_as_all() -> None:
    """In twenty years, one blank of some 600 hours and one number are 99 and 1 of 100."""
    there = np.ones(24 * 365 * 20, bool)
    there[3] = False
    few = np.zeros(24 * 365 * 20, bool)
    few[5] = True
    figure = availability_figure(weather_with({"temp_air": there, "wind_speed": few}))
    assert [[x.get_text() for x in panel.texts] for panel in panels(figure)] == [["99"], ["1"]]
    assert "Air temperature: 99 of 100 hours" in said(figure)
    assert "Mean wind: 1 of 100 hours" in said(figure)


def test_a_column_that_is_nowhere_is_said_in_words() -> None:
    """Two panels for two columns; the chance of rain takes the place of rain."""
    there = {"temp_air": np.ones(48), "wind_speed": np.ones(48), "wind_gust": np.zeros(48)}
    figure = availability_figure(weather_with(there))
    assert len(panels(figure)) == 2
    text = " ".join(said(figure))
    assert "Gust: nowhere in this file" in text
    assert "Rain: nowhere in this file" in text
    figure = availability_figure(
        weather_with(there | {"precipitation_probability": np.ones(48)})
    )
    assert "Chance of rain: 100 of 100 hours" in said(figure)
    assert len(panels(figure)) == 3


def test_it_names_the_clock_and_what_a_row_is() -> None:
    """The zone asked for stands on it, and the rows and hours are labelled."""
    figure = availability_figure(scattered(240), time_zone="America/Chicago")
    assert "A row a day, across it the clock hour, America/Chicago." in said(figure)
    panel = panels(figure)[0]
    rows = [x.get_text() for x in panel.get_yticklabels()]
    assert (rows[0], rows[-1]) == ("Apr 29", "May 8")
    hours = [int(x.get_text()) for x in panel.get_xticklabels()]
    assert hours == [0, 3, 6, 9, 12, 15, 18, 21]
    assert panel.get_xticks().tolist() == [x + 0.5 for x in hours]  # the middle of the cell
    by_month = panels(availability_figure(scattered(400 * 24)))[0]
    assert by_month.get_yticklabels()[0].get_text() == "Apr 2031"


@pytest.mark.parametrize("hours", [1, 240, 50 * 24, 400 * 24, 1060 * 24, 1500 * 24])
def test_it_fits_a_phone_and_a_page(hours: int) -> None:
    """Nothing is written past an edge, no label over the next, a page and a fifth tall."""
    weather = scattered(
        hours, credit="Quillet met office, by way of a very long name, CC BY 4.0"
    )
    figure = availability_figure(weather)
    figure.draw_without_rendering()
    wide, high = figure.get_size_inches()
    assert wide <= PHONE
    assert high <= 13.2
    box = figure.bbox
    for axes in figure.axes:
        for text in (*axes.texts, *axes.get_xticklabels(), *axes.get_yticklabels()):
            if text.get_text() and (axes.axison or text in axes.texts):
                drawn = text.get_window_extent()
                assert box.x0 <= drawn.x0 <= drawn.x1 <= box.x1, text.get_text()
                assert box.y0 <= drawn.y0 <= drawn.y1 <= box.y1, text.get_text()
    for panel in panels(figure):
        labels = [x.get_window_extent() for x in panel.get_yticklabels()]
        assert all(x.y0 >= y.y1 - 1 for x, y in pairwise(labels))


def test_files_of_it() -> None:
    """Every suffix is what it says; an SVG is the same twice and has words for the ear."""
    weather = scattered(240)
    begins = {".json": b"{", ".svg": b"<?xml", ".png": b"\x89PNG"}
    made = {x: inspect_file(weather, x.upper(), files=("a.csv",)) for x in INSPECT_SUFFIXES}
    assert all(made[x].startswith(begins[x]) for x in INSPECT_SUFFIXES)
    assert made[".svg"] == inspect_file(weather, ".svg")
    root = ET.fromstring(made[".svg"])
    words = " ".join(root.itertext())
    assert root.get("role") == "img"
    assert "solid all, dotted none, bare where the file has no hour" in words
    assert not re.findall(r"\bnan\b", words, re.IGNORECASE)


def test_shares_as_json() -> None:
    """The saved record has the shares of the picture; a printed one leaves them out."""
    weather = scattered(50 * 24)
    record = json.loads(inspect_file(weather, ".json", time_zone="America/Chicago"))
    found = record["weather"]["availability"]
    expected = shares(weather, ALL, time_zone="America/Chicago")
    assert (found["by"], found["time_zone"]) == ("day", "America/Chicago")
    assert found["rows"] == list(expected.rows)
    for name in ALL:
        share = np.array(found["share"][name], float)
        assert np.allclose(share, expected.share(name), atol=1e-6, equal_nan=True)
    assert np.array(found["hours"]).sum() == weather.hours
