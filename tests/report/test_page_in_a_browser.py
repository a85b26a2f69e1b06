"""The page in a real browser: phone and desk, print, keyboard, without script, offline."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from planner.report.page.page import page
from tests.browser import LEAST_CONTRAST, Watched
from tests.report.test_page import real
from tests.report.test_real_plans import ASKED

AA = 4.5  # least contrast of text, WCAG 2.2, 1.4.3
UNTIL = pd.Timestamp("2026-05-04T21:00Z")
TARGET = 24.0  # least size of what is pressed, WCAG 2.2, 2.5.8 [px]


@pytest.fixture
def saved(tmp_path: Path) -> Any:
    def save(at: int, units: str = "us", **changed: object) -> str:
        file = tmp_path / f"{at}-{units}.html"
        plan = replace(real(at), **changed)
        file.write_text(page(plan, units=units), encoding="utf-8")
        return file.as_uri()

    return save


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_no_sideways_scroll_and_nothing_from_outside(
    browser: Any, saved: Any, width: int
) -> None:
    """Every plan fits the width; no request but the file, no error on the console."""
    context = browser.new_context(
        viewport={"width": width, "height": 800}, color_scheme="light", offline=True
    )
    watched = Watched(context, at_home="file:")
    for at in range(len(ASKED)):
        watched.page.goto(saved(at))
        assert watched.page.evaluate("document.documentElement.scrollWidth") <= width
    assert not watched.outside
    assert not watched.errors
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out(browser: Any, saved: Any, scheme: str) -> None:
    """Contrast of every text against its ground, in both schemes, folded days opened."""
    context = browser.new_context(color_scheme=scheme)
    tab = context.new_page()
    for at in (0, 1, 3):
        tab.goto(saved(at))
        tab.evaluate("document.querySelectorAll('details').forEach((x) => { x.open = true })")
        ratio, text = tab.evaluate(LEAST_CONTRAST)
        assert ratio >= AA, text
    context.close()


@pytest.mark.parametrize(("units", "paper"), [("us", "Letter"), ("si", "A4")])
def test_it_prints_on_one_sheet(
    browser: Any, saved: Any, tmp_path: Path, units: str, paper: str
) -> None:
    """Letter and A4, whatever the plan."""
    pdfinfo = shutil.which("pdfinfo")
    if pdfinfo is None:
        pytest.skip("no pdfinfo here: printed pages are not counted")
    tab = browser.new_page()
    for at in range(len(ASKED)):
        tab.goto(saved(at, units))
        tab.pdf(path=tmp_path / "page.pdf", format=paper)
        told = subprocess.run(
            [pdfinfo, tmp_path / "page.pdf"], capture_output=True, text=True, check=True
        ).stdout
        assert "Pages:           1\n" in told
    tab.close()


def test_a_film_temperature_typed_with_the_keyboard_alone(browser: Any, saved: Any) -> None:
    """Tab to the field, type, read what to do; outside the chart it says how far that goes."""
    tab = browser.new_page()
    tab.goto(saved(0))
    field = tab.get_by_label("Film at the locks now")
    for _ in range(10):
        tab.keyboard.press("Tab")
        if field.evaluate("(x) => x === document.activeElement"):
            break
    tab.keyboard.type("62")
    output = tab.locator("output")
    assert output.inner_text().startswith("Film 62 F at the locks: pull")
    field.fill("300")
    assert "from 30 to 130 F" in output.inner_text()
    field.fill("")
    assert output.inner_text() == ""
    tab.close()


def test_without_script_everything_but_the_field_is_there(browser: Any, saved: Any) -> None:
    """The chart is a table anyway; a field that would do nothing is not shown."""
    context = browser.new_context(java_script_enabled=False)
    tab = context.new_page()
    tab.goto(saved(0, use_until=UNTIL))
    assert tab.get_by_role("heading", name="How far to pull at the locks").is_visible()
    assert tab.get_by_role("cell", name="leave a hand's slack").first.is_visible()
    assert not tab.get_by_label("Film at the locks now").is_visible()
    assert "Do not use after" in tab.inner_text(".until")
    context.close()


def test_an_old_page_says_so(browser: Any, saved: Any) -> None:
    """Quiet in time; after the last start (8:30 am CDT) the answer is struck, after its end
    the top of the page says out of date too."""
    cases = (
        ("2026-05-04T12:00:00Z", False, False),
        ("2026-05-04T13:45:00Z", False, True),
        ("2026-05-04T21:30:00Z", True, True),
    )
    for now, old, late in cases:
        context = browser.new_context()
        tab = context.new_page()
        tab.clock.set_fixed_time(now)
        tab.goto(saved(0, use_until=UNTIL))
        assert ("over" in (tab.get_attribute(".until", "class") or "")) is old
        assert ("stale" in (tab.get_attribute(".answer", "class") or "")) is late
        assert tab.get_by_text("The last start is past").is_visible() is late
        context.close()


def test_what_is_pressed_is_large_enough(browser: Any, saved: Any) -> None:
    """Boxes, fields and folded days on a phone."""
    context = browser.new_context(viewport={"width": 390, "height": 800})
    tab = context.new_page()
    tab.goto(saved(0))
    for element in tab.locator("input, summary").all():
        box = element.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= TARGET - 0.5
    context.close()
