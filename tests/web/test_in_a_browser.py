"""The local web page in a real browser: both uses from an empty folder, and what may go wrong.

At the width of a phone and of a desk, with and without script, by keyboard alone, offline.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from planner.web.desk import Lying
from tests.browser import Watched
from tests.web.live import (
    ANSWERS,
    FORECAST,
    WIDTHS,
    Site,
    download,
    fill_in,
    follow,
    press,
    served,
    upload,
    visiting,
    with_plan,
    word,
)
from tests.web.made_app import JOB, demo_weather

MOST_TABS = 80  # stops from the top of a page to what is looked for
FOCUSED = """() => {
  const at = document.activeElement, style = getComputedStyle(at);
  const name = at.labels?.length ? at.labels[0].innerText : at.innerText;
  return [at.tagName, (name || at.getAttribute("aria-label") || "").trim(),
    style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2];
}"""
CARDS = (("Crew card, Letter", 612), ("Crew card, A4", 595))  # how wide [pt]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """Started in an empty folder, with nothing on the desk of whoever comes."""
    with served(tmp_path_factory.mktemp("empty")) as site:
        yield site


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
@pytest.mark.parametrize("width", WIDTHS)
def test_pick_the_day(
    browser: Any, site: Site, tmp_path: Path, width: int, script: bool
) -> None:
    """From nothing to the answer, what six people would change, and files to take along."""
    how = {"width": width, "java_script_enabled": script}
    with visiting(browser, site, **how) as tab:
        tab.goto(site.url)
        assert tab.url.endswith("/job")
        for label, said in (ANSWERS | {"Width, foot to foot": "wide"}).items():
            tab.get_by_label(label).fill(said)
        press(tab, "Keep this job")
        field = tab.get_by_label("Width, foot to foot")
        assert field.get_attribute("aria-invalid") == "true"
        assert "cannot be read as a length" in tab.inner_text("#house-width-wrong")
        _stands_between(tab, "label[for=house-width]", "#house-width-wrong", "#house-width")
        for label, said in ANSWERS.items():
            kept = "wide" if label.startswith("Width") else said
            assert tab.get_by_label(label).input_value() == kept
        field.fill("20 ft")
        press(tab, "Keep this job")
        upload(tab)
        assert "28 of 240 gusts are blank" in tab.inner_text("main")
        follow(tab, "See the plan")
        assert word(tab) in {"GO", "HOLD", "NO-GO"}
        assert "not permission" in tab.inner_text("main")
        _what_if_six(tab)
        follow(tab, "Plan")
        _take_along(tab, browser, tmp_path, cards=CARDS if script else CARDS[:1])
        follow(tab, "Job")
        _save_by_name(tab, site, f"north-{width}-{script}.toml")


def _stands_between(tab: Any, above: str, here: str, below: str) -> None:
    tops = [tab.locator(x).bounding_box()["y"] for x in (above, here, below)]
    assert tops == sorted(tops)
    assert tops[2] - tops[0] < 200  # px: all three on one screen of a phone


def _what_if_six(tab: Any) -> None:
    follow(tab, "What if")
    tab.get_by_label("People in the crew").fill("6")
    press(tab, "Compare")
    assert tab.get_by_role("columnheader", name="With 6 people").is_visible()
    cells = tab.get_by_role("row").filter(has_text="Chance").get_by_role("cell")
    four, six = (int(re.findall(r"\d+", x)[0]) for x in cells.all_inner_texts())
    assert four <= six


def _take_along(tab: Any, browser: Any, folder: Path, *, cards: Any) -> None:
    page = folder / "page.html"
    page.write_bytes(download(tab, "Page for the phone"))
    yard = browser.new_context(offline=True)
    alone = Watched(yard, at_home="file:")
    alone.page.goto(page.as_uri())
    assert word(alone.page) == word(tab)
    assert "North tunnel" in alone.page.inner_text("h1")
    assert alone.outside == alone.errors == []
    yard.close()
    for name, wide in cards:
        card = download(tab, name)
        assert card.startswith(b"%PDF")
        box = re.search(rb"/MediaBox \[ *([\d. ]+)\]", card)
        assert box
        assert sorted(map(float, box.group(1).split()))[2] == pytest.approx(wide, abs=1)
    assert download(tab, "Calendar").startswith(b"BEGIN:VCALENDAR")
    assert json.loads(download(tab, "Record for programs"))["schema"] == "windows/1"
    assert tomllib.loads(download(tab, "Job file").decode())["name"] == "North tunnel"


def _save_by_name(tab: Any, site: Site, name: str) -> None:
    file = site.folder / name
    assert not file.exists()
    tab.get_by_label("Name of the file").fill(name)
    press(tab, "Save the job file")
    assert "is saved" in tab.get_by_role("status").inner_text()
    saved = file.read_bytes()
    assert tomllib.loads(saved.decode())["crew"]["people"] == 4
    tab.get_by_label("People in the crew").fill("5")
    press(tab, "Keep these changes")
    tab.get_by_label("Name of the file").fill(name)
    press(tab, "Save the job file")
    assert "is there already" in tab.inner_text("#file-wrong")
    assert tab.get_by_label("Name of the file").input_value() == name
    assert file.read_bytes() == saved
    tab.get_by_label("Replace a file of that name").check()
    press(tab, "Save the job file")
    assert tomllib.loads(file.read_text("utf-8"))["crew"]["people"] == 5


@pytest.mark.parametrize("width", WIDTHS)
def test_a_hot_afternoon(browser: Any, site: Site, width: int) -> None:
    """48 C is typed, then the slider is moved by its keys: the words change, the page stays."""
    with visiting(browser, site, width=width) as tab:
        fill_in(tab, site)
        follow(tab, "Tension")
        tab.get_by_label("Film temperature at the locks").fill("48C")
        tab.keyboard.press("Enter")
        tab.wait_for_url("**film=48C")
        said = tab.inner_text("#now")
        assert "Film 118 F at the locks: leave" in said
        assert "slack" in said
        assert not tab.get_by_role("button", name="slider").is_visible()
        slider = tab.get_by_label("Or slide it")
        assert slider.input_value() == "118"
        tab.evaluate("window.stayed = true")
        slider.focus()
        for _ in range(50):
            tab.keyboard.press("ArrowLeft")
        tab.locator("#now .big").filter(has_text="Film 68 F at the locks: pull").wait_for()
        assert tab.evaluate("window.stayed")
        assert tab.url.endswith("film=48C")


@pytest.mark.parametrize("width", WIDTHS)
def test_a_hot_afternoon_without_script(browser: Any, site: Site, width: int) -> None:
    """The slider has a button of its own then, and says the same."""
    with visiting(browser, site, width=width, java_script_enabled=False) as tab:
        fill_in(tab, site)
        follow(tab, "Tension")
        tab.get_by_label("Film temperature at the locks").fill("48C")
        press(tab, "Say how far")
        assert "Film 118 F at the locks: leave" in tab.inner_text("#now")
        tab.get_by_label("Or slide it").fill("68")
        press(tab, "Say it for the slider")
        assert tab.inner_text("#now .big").startswith("Film 68 F at the locks: pull")
        tab.get_by_label("Film temperature at the locks").fill("hot")
        press(tab, "Say how far")
        assert "cannot be read" in tab.inner_text("#film-wrong")
        _stands_between(tab, "label[for=film]", "#film-wrong", "#film")


class Keys:
    """Goes through a page by Tab; wherever it stops, the focus must be seen."""

    def __init__(self, tab: Any) -> None:
        self._tab = tab

    def to(self, name: str) -> None:
        """Press Tab until what has this name has the focus."""
        for _ in range(MOST_TABS):
            self._tab.keyboard.press("Tab")
            kind, found, seen = self._tab.evaluate(FOCUSED)
            if kind != "BODY":
                assert seen, f"the focus is not seen on {found}"
            if found.startswith(name):
                return
        raise AssertionError(f"{name} is not reached")

    def enter(self, name: str) -> None:
        """Go there and press Enter; where that leads to another page, wait for it."""
        self.to(name)
        with self._tab.expect_navigation():
            self._tab.keyboard.press("Enter")


@pytest.mark.parametrize("width", WIDTHS)
def test_pick_the_day_by_keyboard_alone(browser: Any, site: Site, width: int) -> None:
    """Tab, Enter and what is typed lead from the empty form to the crew card."""
    with visiting(browser, site, width=width) as tab:
        choosers: list[Any] = []
        tab.on("filechooser", lambda x: choosers.append(x))  # asked for in time
        tab.goto(site.url)
        keys = Keys(tab)
        for label, said in (ANSWERS | {"Width, foot to foot": "wide"}).items():
            keys.to(label)
            tab.keyboard.type(said)
        keys.enter("Keep this job")
        keys.to("Width, foot to foot: ")
        tab.keyboard.press("Enter")
        assert tab.evaluate(FOCUSED)[:2] == ["INPUT", "Width, foot to foot"]
        tab.keyboard.press("ControlOrMeta+A")
        tab.keyboard.type("20 ft")
        with tab.expect_navigation():
            tab.keyboard.press("Enter")
        assert tab.url.endswith("/weather")
        keys.to("Weather file")
        with tab.expect_file_chooser() as asked:
            tab.keyboard.press("Enter")
        asked.value.set_files(FORECAST)
        keys.enter("Read this weather")
        keys.enter("See the plan")
        assert word(tab) in {"GO", "HOLD", "NO-GO"}
        keys.enter("What if")
        keys.to("People in the crew")
        tab.keyboard.type("6")
        with tab.expect_navigation():
            tab.keyboard.press("Enter")
        assert tab.get_by_role("columnheader", name="With 6 people").is_visible()
        keys.enter("Plan")
        keys.to("Crew card, Letter")
        with tab.expect_download() as card:
            tab.keyboard.press("Enter")
        assert card.value.suggested_filename == "north-tunnel-letter.pdf"


def test_the_way_past_the_links(browser: Any, site: Site) -> None:
    """The first stop of a page jumps over the links, and the next one is in the page."""
    with visiting(browser, site) as tab:
        tab.goto(f"{site.url}/job")
        keys = Keys(tab)
        keys.to("To the page itself")
        box = tab.get_by_role("link", name="To the page itself").bounding_box()
        assert box["x"] >= 0
        tab.keyboard.press("Enter")
        tab.keyboard.press("Tab")
        assert tab.evaluate(FOCUSED)[1] == "What do you call the house?"


@pytest.mark.parametrize("width", WIDTHS)
def test_a_step_is_done_and_put_back(browser: Any, site: Site, width: int) -> None:
    """What is done is no longer planned; one step back, and it is again."""
    with visiting(browser, site, width=width) as tab:
        with_plan(tab, site)
        assert "end wall north" in tab.inner_text(".order").lower()
        follow(tab, "Job")
        for wall in ("End wall north", "End wall south"):
            tab.get_by_label(wall).select_option("done")
        press(tab, "Mark the steps")
        assert "steps are marked" in tab.get_by_role("status").inner_text()
        follow(tab, "See the plan")
        assert "end wall" not in tab.inner_text(".order").lower()
        follow(tab, "Job")
        press(tab, "Put it back as it was")
        assert tab.get_by_label("End wall north").input_value() == "to do"
        follow(tab, "Plan")
        assert "end wall north" in tab.inner_text(".order").lower()


@pytest.mark.parametrize("width", WIDTHS)
def test_an_old_form_in_a_second_tab(browser: Any, site: Site, width: int) -> None:
    """It is told what is now beside what was typed, keeps that, and may be sent again."""
    with visiting(browser, site, width=width) as tab:
        fill_in(tab, site)
        tab.goto(f"{site.url}/job")
        other = tab.context.new_page()
        other.goto(f"{site.url}/job")
        other.get_by_label("People in the crew").fill("5")
        press(other, "Keep these changes")
        tab.get_by_label("People in the crew").fill("7")
        press(tab, "Keep these changes")
        assert "Nothing was overwritten" in tab.get_by_role("alert").inner_text()
        row = tab.locator(".changed tbody tr")
        assert row.inner_text().split("\t") == ["People in the crew", "5", "7"]
        assert tab.get_by_label("People in the crew").input_value() == "7"
        press(tab, "Keep these changes")
        other.goto(f"{site.url}/job")
        assert other.get_by_label("People in the crew").input_value() == "7"


def test_two_phones_at_once(browser: Any, site: Site) -> None:
    """Each has its own job and its own answer; neither sees the other's."""
    with visiting(browser, site) as one, visiting(browser, site) as two:
        fill_in(one, site, **{"What do you call the house?": "East house"})
        fill_in(two, site, **{"What do you call the house?": "West house"})
        upload(one)
        assert two.goto(f"{site.url}/plan").status == 200
        assert two.url.endswith("/weather")
        upload(two)
        for tab, name in ((one, "East house"), (two, "West house")):
            follow(tab, "See the plan")
            assert name in tab.inner_text("h1")
            assert word(tab)


@pytest.mark.parametrize("width", WIDTHS)
def test_the_way_back(browser: Any, site: Site, width: int) -> None:
    """The browser's own button leads through the pages as they were, forms and all."""
    with visiting(browser, site, width=width) as tab:
        with_plan(tab, site)
        follow(tab, "What if")
        tab.get_by_label("People in the crew").fill("6")
        press(tab, "Compare")
        for ending, heading in (
            ("/what-if", "As it is"),
            ("/plan", "Take it along"),
            ("/weather#found", "What was found in forecast.csv"),
        ):
            tab.go_back()
            assert tab.url.endswith(ending)
            assert tab.get_by_role("heading", name=heading).is_visible()
        tab.go_back()
        tab.go_back()
        assert tab.url.endswith("/job")
        assert tab.get_by_label("Width, foot to foot").input_value() == "20 ft"


@pytest.mark.parametrize("width", WIDTHS)
def test_the_plan_stays_when_the_planner_is_gone(
    browser: Any, tmp_path: Path, width: int
) -> None:
    """Stopped after the page was loaded: it is read, unfolded and asked as before."""
    with served(tmp_path, Lying(job=JOB, given=demo_weather())) as site:
        with visiting(browser, site, width=width) as tab:
            tab.goto(f"{site.url}/plan")
            site.stop()
            tab.context.set_offline(True)
            assert word(tab) == "GO"
            assert tab.get_by_role("heading", name="Cautions").is_visible()
            tab.get_by_label("Film at the locks now").fill("62")
            assert tab.inner_text("output").startswith("Film 62 F at the locks: pull")
            folded = tab.locator("details").last
            folded.locator("summary").click()
            assert folded.locator("table").is_visible()
            follow(tab, "Take it along: page, crew card, calendar")
            assert tab.get_by_role("heading", name="Take it along").is_visible()
        assert list(tmp_path.iterdir()) == []
