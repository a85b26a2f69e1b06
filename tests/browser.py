"""A real browser for tests of pages; skipped aloud where it is missing."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from typing import Any

import pytest

#: Run in the page: the least contrast of any text against what lies behind it (WCAG 2.2).
LEAST_CONTRAST = """() => {
  const parts = (colour) => colour.match(/[\\d.]+/g).map(Number);
  const light = (colour) => {
    const [r, g, b] = parts(colour).slice(0, 3).map((x) => x / 255)
      .map((x) => (x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const behind = (element) => {
    for (let at = element; at; at = at.parentElement) {
      const colour = getComputedStyle(at).backgroundColor;
      if (parts(colour).length < 4 || parts(colour)[3] > 0) return colour;
    }
    return "rgb(255, 255, 255)";
  };
  let worst = [99, "none"];
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    const element = texts.currentNode.parentElement;
    if (!texts.currentNode.data.trim() || !element.getClientRects().length) continue;
    if (["SCRIPT", "STYLE"].includes(element.tagName)) continue;
    const [one, two] = [getComputedStyle(element).color, behind(element)].map(light);
    const ratio = (Math.max(one, two) + 0.05) / (Math.min(one, two) + 0.05);
    if (ratio < worst[0]) worst = [ratio, texts.currentNode.data.trim().slice(0, 40)];
  }
  return worst;
}"""


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Debian's Chromium, driven by playwright."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        pytest.skip("no chromium here: pages are not tried in a browser")
    with sync_api.sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=chromium, args=["--no-sandbox", "--disable-gpu"]
        )
        yield started
        started.close()


class Watched:
    """A page whose requests to the outside and console errors are collected."""

    def __init__(self, context: Any, *, at_home: str) -> None:
        self.outside: list[str] = []
        self.errors: list[str] = []
        context.route("**/*", lambda route: self._let(route, at_home))
        self.page = context.new_page()
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))

    def _let(self, route: Any, at_home: str) -> None:
        if route.request.url.startswith(at_home):
            route.continue_()
        else:
            self.outside.append(route.request.url)
            route.abort()

    def _heard(self, message: Any) -> None:
        if message.type in {"error", "warning"}:
            self.errors.append(message.text)
