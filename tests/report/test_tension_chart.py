"""The picture of how tight: that it draws, is stable, and says what it must."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from planner.report.picture.day_sheet import chart_bytes
from planner.report.picture.tension import tension_figure
from tests.report.made_tension import CASES, INCH, now_at, row, with_course

SVG = "{http://www.w3.org/2000/svg}"
#: Lines a plot draws beside those of the sheet lie on one x or one y.
SHEET_LINES = 2


@pytest.mark.parametrize("name", CASES)
def test_every_plan_draws_the_same_bytes_twice(name: str, tmp_path: Path) -> None:
    """Well-formed SVG with a title and its own description, identical when drawn again."""
    first, second = tmp_path / "a.svg", tmp_path / "b.svg"
    for path in (first, second):
        path.write_bytes(chart_bytes(tension_figure(CASES[name](), units="si"), path.suffix))
    assert first.read_bytes() == second.read_bytes()
    root = ET.fromstring(first.read_text(encoding="utf-8"))
    assert root.find(f"{SVG}title").text.endswith("how tight to lock the film")
    said = root.find(f"{SVG}desc").text
    assert "pull past snug against film temperature" in said
    assert "one row an hour" not in said


@pytest.mark.parametrize(("units", "a_unit"), [("si", 1.0), ("us", INCH)])
def test_the_lines_are_the_chart(units: str, a_unit: float) -> None:
    """Both spans, in the reader's unit, falling with film temperature."""
    plot = tension_figure(now_at(8.0), units=units).axes[1]
    lines = [x for x in plot.lines if len(x.get_xdata()) == len(now_at(8.0).chart.rows)]
    drawn = [list(x.get_ydata()) for x in lines[1:] if len(set(x.get_xdata())) > 1]
    wanted = [[1.5 * INCH / a_unit, -INCH / a_unit], [3 * INCH / a_unit, -2 * INCH / a_unit]]
    assert [pytest.approx(x) for x in wanted] == [
        x for x in drawn if len(set(x)) == SHEET_LINES
    ]


def test_the_film_now_is_marked_and_left_out_without_one() -> None:
    """48 degC is 118 F."""
    assert "now 118 F" in words(replace(with_course(), now=row(48.0)))
    assert "now 118 F" not in words(with_course())


def words(plan) -> list[str]:
    figure = tension_figure(plan, units="us")
    return [x.get_text().strip() for axes in figure.axes for x in axes.texts]


def test_named_hours_channel_notes_and_credit_can_be_read() -> None:
    """What a face must carry: the hours that matter, the bound and where it is from."""
    said = words(with_course())
    assert {"hottest", "coldest", "first night", "largest gust"} <= set(said)
    assert "channel holds\n (assumed)" in said
    assert "Slack just over 1 in over the bows Wed May 7 2:00 pm, 1 in is well." not in said
    assert any(x.startswith("Slack 1 1/4 in over the bows Wed May 7 2:00 pm") for x in said)
    assert any("CC BY 4.0" in x for x in said)
    assert not [x for x in said if "nan" in x.lower().split()]


def test_a_known_channel_is_not_called_assumed() -> None:
    """The job file's own figure stands alone."""
    assert "channel holds" in words(replace(with_course(), channel_known=True))


@pytest.mark.parametrize("name", CASES)
def test_nothing_is_cut_off_and_no_names_touch(name: str) -> None:
    """Every text lies inside the picture, and no two lie over each other."""
    if name == "odd name":
        pytest.skip("a name of 100 letters is longer than the picture")
    figure = tension_figure(CASES[name](), units="us")
    figure.canvas.draw()
    width, height = figure.get_size_inches() * figure.dpi
    boxes = [
        x.get_window_extent()
        for axes in figure.axes
        for x in axes.texts
        if x.get_text().strip()
    ]
    assert all(box.x0 >= 0 and box.x1 <= width for box in boxes)
    assert all(box.y0 >= 0 and box.y1 <= height for box in boxes)
    assert not [
        (a, b)
        for at, a in enumerate(boxes)
        for b in boxes[at + 1 :]
        if a.x0 < b.x1 and b.x0 < a.x1 and a.y0 + 1 < b.y1 and b.y0 + 1 < a.y1
    ]


def test_plots_stand_below_each_other() -> None:
    """One plot without weather, three with it, none over the next."""
    assert len(tension_figure(now_at(8.0), units="si").axes) == 1 + 1
    plots = tension_figure(with_course(), units="si").axes[1:]
    assert len(plots) == 3
    boxes = [x.get_position() for x in plots]
    assert all(above.y0 > below.y1 for above, below in pairwise(boxes))


def test_a_gap_stays_a_gap() -> None:
    """The hour without data has no point on the line of slack."""
    slack = tension_figure(with_course(), units="si").axes[2].lines[0].get_ydata()
    assert slack[8] != slack[8]
    assert slack[31] == pytest.approx(INCH)
