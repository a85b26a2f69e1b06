"""The day sheet picture: that it draws, is stable, well formed and says what it must."""

from __future__ import annotations

import struct
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from planner.plan.records import Plan
from planner.report.picture.day_sheet import chart_bytes, day_sheet
from tests.report.made_chances import CASES as MANY
from tests.report.made_chances import starts_later

SVG = "{http://www.w3.org/2000/svg}"


def texts_of(path: Path) -> list[str]:
    root = ET.fromstring(path.read_text(encoding="utf-8"))
    return ["".join(x.itertext()).strip() for x in root.iter(f"{SVG}text")]


def test_every_plan_draws_the_same_bytes_twice(any_plan: Plan, tmp_path: Path) -> None:
    """Well-formed SVG with a title and a description, identical when drawn again."""
    first, second = tmp_path / "a.svg", tmp_path / "b.svg"
    for path in (first, second):
        path.write_bytes(chart_bytes(day_sheet(any_plan, units="si"), path.suffix))
    assert first.read_bytes() == second.read_bytes()
    root = ET.fromstring(first.read_text(encoding="utf-8"))
    assert root.find(f"{SVG}title").text.startswith("Quillet Hollow house 3")
    assert root.find(f"{SVG}desc").text
    assert root.get("role") == "img"


def test_words_are_text_and_complete(plan: Plan, tmp_path: Path) -> None:
    """What binds, the limits, estimated gusts, the caution and the credit can be read."""
    path = tmp_path / "hours.svg"
    path.write_bytes(chart_bytes(day_sheet(plan, units="us"), path.suffix))
    texts = texts_of(path)
    assert "gust 11.6 over 4.0 at 12:00 pm" in texts
    assert "start 6:00 to 6:45 am" in texts
    assert "28 of 240 gusts are missing in the file and were estimated." in texts
    assert any("A plan is not permission" in x for x in texts)
    assert any("CC BY 4.0" in x for x in texts)
    assert not [x for x in texts if "nan" in x.lower().split()]


def test_time_runs_down(plan: Plan) -> None:
    """Within a day a later hour stands lower."""
    axes = day_sheet(plan, units="si").axes[0]
    left = min(x.get_position()[0] for x in axes.texts if x.get_text() == "06:00")
    column = {
        x.get_text(): x.get_position()[1] for x in axes.texts if x.get_position()[0] == left
    }
    clocks = sorted(x for x in column if ":" in x)
    heights = [column[x] for x in clocks]
    assert len(clocks) > 10
    assert heights == sorted(heights)
    assert axes.yaxis_inverted()


def test_nothing_is_cut_off(plan: Plan) -> None:
    """Every text lies inside the picture, and no row's words run into the next day's."""
    figure = day_sheet(plan, units="us")
    figure.canvas.draw()
    width, height = figure.get_size_inches() * figure.dpi
    boxes = [x.get_window_extent() for x in figure.axes[0].texts if x.get_text()]
    assert all(box.x0 >= 0 and box.x1 <= width for box in boxes)
    assert all(box.y0 >= 0 and box.y1 <= height for box in boxes)
    overlaps = [
        (a, b)
        for at, a in enumerate(boxes)
        for b in boxes[at + 1 :]
        if a.x0 < b.x1 and b.x0 < a.x1 and a.y0 + 2 < b.y1 and b.y0 + 2 < a.y1
    ]
    assert not overlaps


def test_any_step_can_be_drawn(plan: Plan) -> None:
    """A step asked for by name; an unknown name falls back on the decided one."""
    assert day_sheet(plan, "end wall south", units="us").get_label().endswith("end wall south")
    assert day_sheet(plan, units="us").get_label().endswith("roof sheet")


def test_markup_in_names_is_only_text(plan: Plan, tmp_path: Path) -> None:
    """A name with angle brackets or dollars cannot break the file."""
    from dataclasses import replace

    named = replace(plan, job=replace(plan.job, name='<b> & "$x_1$" \\1'))
    path = tmp_path / "odd.svg"
    path.write_bytes(chart_bytes(day_sheet(named, units="us"), path.suffix))
    assert any('<b> & "$x_1$" \\1' in x for x in texts_of(path))


def test_png_is_twice_the_screen_size(plan: Plan, tmp_path: Path) -> None:
    """A PNG of 200 dots per inch of the figure."""
    figure = day_sheet(plan, units="us")
    path = tmp_path / "hours.png"
    path.write_bytes(chart_bytes(figure, path.suffix))
    data = path.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", data[16:24])
    inches = figure.get_size_inches()
    assert (width, height) == pytest.approx((200 * inches[0], 200 * inches[1]), abs=1)


def test_chances_are_marked_at_what_a_go_needs(tmp_path: Path) -> None:
    """The picture says what the bar is, where the mark is, and what is likeliest to fail."""
    path = tmp_path / "hours.svg"
    path.write_bytes(chart_bytes(day_sheet(starts_later(), units="us"), path.suffix))
    texts = texts_of(path)
    assert any(
        "in how many of 100 a start on the hour holds; line: GO needs 88" in x for x in texts
    )
    assert texts.count("88") == texts.count("most likely trouble") == 3
    assert "start 6:00 to 6:45 am: 81 of 100" in texts
    assert "a start in this hour has the chance that GO needs" in texts


@pytest.mark.parametrize("name", MANY)
def test_chances_draw_the_same_bytes_twice(name: str, tmp_path: Path) -> None:
    """Each of the plans with possible weathers is drawn, and drawn alike."""
    first, second = tmp_path / "a.svg", tmp_path / "b.svg"
    for path in (first, second):
        path.write_bytes(chart_bytes(day_sheet(MANY[name](), units="us"), path.suffix))
    assert first.read_bytes() == second.read_bytes()


@pytest.mark.parametrize("name", MANY)
def test_texts_of_one_row_do_not_run_into_each_other(name: str) -> None:
    """Each text ends before the next one of its row begins, in the picture's own font."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure = day_sheet(MANY[name](), units="us")
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    boxes = [x.get_window_extent(canvas.get_renderer()) for x in figure.axes[0].texts]
    rows: dict[int, list[tuple[float, float]]] = {}
    for box in boxes:
        rows.setdefault(round((box.y0 + box.y1) / 2), []).append((box.x0, box.x1))
    for row in rows.values():
        for (_, end), (begin, _) in pairwise(sorted(row)):
            assert end <= begin
