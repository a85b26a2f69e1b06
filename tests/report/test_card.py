"""The printed crew card: one page, whole, readable, the same bytes every time."""

from __future__ import annotations

import hashlib
import pickle
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest

from planner.job.jobfile import read_job
from planner.plan.make import make_plan
from planner.plan.records import Plan
from planner.report.card.layout import Page
from planner.report.card.pdf import PAPERS, card_pdf, drawn, fitted
from planner.report.card.rows import NO_START, card_rows
from planner.report.card.type import face
from planner.report.words import Words
from planner.weather.read import read_weather
from tests.report.made_cards import MADE, NAMES, crowded, current, named

DATA = Path(__file__).parents[2] / "data"
POINTS = {"letter": (612.0, 792.0), "a4": (595.276, 841.89)}  # ISO 216, ANSI/ASME Y14.1
EDGE = 18.0  # pt at the edge of the paper where a printer may not print
DPI = 200
TOUCH = 0.35  # pt: letters of two lines may come so close by rounding
PRINTED = [
    x for x in MADE if ":" not in x or x.split(": ")[1] in {"go", "low chance", "may fall"}
]
PAIRS = (("us", "letter"), ("si", "a4"))


def run(tool: str, *arguments: str) -> str:
    """Run one of the tools that read PDF files."""
    if shutil.which(tool) is None:
        pytest.skip(f"{tool} is not installed: the printed card is not read back")
    done = subprocess.run([tool, *arguments], capture_output=True, text=True, check=True)
    return done.stdout


def printed(plan: Plan, folder: Path, *, units: str, paper: str) -> str:
    path = folder / "card.pdf"
    path.write_bytes(card_pdf(plan, units=units, paper=paper))
    return str(path)


def read(path: str) -> str:
    """The text of a printed card in one line."""
    return " ".join(run("pdftotext", "-layout", path, "-").split())


def laid(plan: Plan, *, units: str, paper: str) -> Page:
    words = Words(units=units, time_zone=plan.time_zone, light=plan.light)
    return fitted(card_rows(plan, words), *PAPERS[paper])


def boxes(page: Page, paper: str) -> list[tuple[str, float, float, float, float]]:
    """Each line of text as the drawing library measures it: left, right, bottom, top [in]."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    width, height = PAPERS[paper]
    figure = Figure(figsize=(width, height), dpi=DPI)
    renderer = FigureCanvasAgg(figure).get_renderer()
    found = []
    for mark in page.marks:
        text = figure.text(
            mark.x / width, 1 - mark.y / height, mark.text, size=mark.size,
            fontproperties=face(mark.bold), va="baseline", parse_math=False,
        )  # fmt: skip
        text.set_fontsize(mark.size)
        box = text.get_window_extent(renderer)
        found.append((mark.text, *(x / DPI for x in (box.x0, box.x1, box.y0, box.y1))))
    return found


def check_room(page: Page, paper: str) -> None:
    """Nothing outside the paper, no two lines of text on each other, none on a rule."""
    width, height = PAPERS[paper]
    edge, touch = EDGE / 72, TOUCH / 72
    found = boxes(page, paper)
    for text, left, right, low, high in found:
        assert edge < left < right < width - edge, text
        assert edge < low < high < height - edge, text
        for rule in page.rules:
            beside = rule.end <= left + touch or right <= rule.x + touch
            level = height - rule.y
            assert beside or not low + touch < level < high - touch, (text, rule)
    for (one, l1, r1, b1, t1), (other, l2, r2, b2, t2) in combinations(found, 2):
        across = min(r1, r2) - max(l1, l2)
        down = min(t1, t2) - max(b1, b2)
        assert across < touch or down < touch, (one, other)
    assert all(edge < x.x < x.end < width - edge for x in page.rules)
    assert all(edge < x.y < height - edge for x in page.rules)


def check_words(path: str, paper: str) -> None:
    """The same of the words in the file, as a program that reads PDF finds them."""
    width, height = POINTS[paper]
    pattern = r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">'
    found = [
        tuple(map(float, x)) for x in re.findall(pattern, run("pdftotext", "-bbox", path, "-"))
    ]
    assert found
    for left, top, right, bottom in found:
        assert left > EDGE
        assert right < width - EDGE
        assert top > EDGE
        assert bottom < height - EDGE
    for one, other in combinations(found, 2):
        across = min(one[2], other[2]) - max(one[0], other[0])
        down = min(one[3], other[3]) - max(one[1], other[1])
        assert across < TOUCH or down < TOUCH


@pytest.mark.parametrize("name", PRINTED)
def test_every_card_is_one_whole_page(name: str, tmp_path: Path) -> None:
    """Size, one page, type in the file, no date; every phase, clock, limit and caution."""
    plan = current(MADE[name]())
    units, paper = PAIRS[PRINTED.index(name) % 2]
    path = printed(plan, tmp_path, units=units, paper=paper)
    about = run("pdfinfo", path)
    size = re.search(r"Page size: +([\d.]+) x ([\d.]+) pts", about)
    assert size
    assert [float(x) for x in size.groups()] == pytest.approx(POINTS[paper], abs=0.01)
    assert re.search(r"^Pages: +1$", about, re.MULTILINE)
    assert re.search(r"^Title: +Crew card, Quillet Hollow house 3", about, re.MULTILINE)
    assert "Date" not in about
    fonts = run("pdffonts", path).splitlines()[2:]
    assert fonts
    assert all(re.search(r"TrueType.* yes yes yes ", line) for line in fonts)
    check_content(plan, read(path), units)
    check_words(path, paper)


def check_content(plan: Plan, text: str, units: str) -> None:
    words = Words(units=units, time_zone=plan.time_zone, light=plan.light)
    card = card_rows(plan, words)
    assert re.search(rf"(^| ){card.answer} ", text)
    for said in (card.use, *card.cautions, *card.rests, card.title):
        assert " ".join(said.split()) in text
    assert (NO_START in text) is (card.work is None and card.answer != "DONE")
    if card.work is None:
        assert "stop when you see" not in text
        return
    for phase in card.work.phases:
        row = f"{phase.clock} {phase.name} {phase.minutes} {phase.hands} {phase.hand_limit}"
        assert row in text
        assert phase.sign in text
    labels, clocks = zip(*card.work.times, strict=True)
    assert " ".join((*(x.upper() for x in labels), *clocks)) in text
    assert all(" ".join(x.split()) in text for x in card.work.stops)
    assert "Caller" in text
    assert ("mid-bay sag" in text) is (card.work.pull is not None)
    for line in card.work.pull.lines if card.work.pull else ():
        row = " ".join((line.film, *line.pulls, line.check))
        assert row.replace(" ", "") in text.replace(" ", "")


@pytest.mark.parametrize(("units", "paper"), PAIRS)
def test_nothing_overlaps_or_leaves_the_page(units: str, paper: str) -> None:
    """A short card, a crowded one and an odd name, by extents that the layout did not use."""
    short = laid(MADE["chances: go"](), units=units, paper=paper)
    assert min(x.size for x in short.marks) >= 10.0
    crowd = laid(current(crowded(14)), units=units, paper=paper)
    odd = laid(current(named(NAMES["long"])), units=units, paper=paper)
    for page in (short, crowd, odd):
        check_room(page, paper)


@pytest.mark.parametrize("count", [14, 30])
@pytest.mark.parametrize(("units", "paper"), PAIRS)
def test_many_phases_still_fit(count: int, units: str, paper: str, tmp_path: Path) -> None:
    """However many phases with long names: one page, all of them, none cut."""
    plan = current(crowded(count))
    path = printed(plan, tmp_path, units=units, paper=paper)
    text = read(path)
    assert re.search(r"^Pages: +1$", run("pdfinfo", path), re.MULTILINE)
    for number in range(count):  # a long name goes on below its row
        assert re.search(rf"lock edge {number} of the( |$)", text), number
    check_words(path, paper)


def test_a_long_step_costs_reading_rows_before_legibility() -> None:
    """The type is larger on a short card, and ten points as long as rows can give way."""
    sizes = []
    for count in (4, 9, 12, 30):
        page = laid(crowded(count, name="lock edge {}"), units="us", paper="letter")
        sizes.append(min(x.size for x in page.marks))
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > 10.0 > sizes[-1]
    assert sizes[2] >= 10.0


def test_what_counts_is_large() -> None:
    """Answer above times above phases and stop lines, those at least 11 points."""
    plan = MADE["chances: go"]()
    size = {x.text: x.size for x in laid(plan, units="us", paper="letter").marks}
    assert size["GO"] > size["5:45 pm"] > size["pull over"] >= 11.0
    assert size["5:45 pm"] >= 18.0
    assert size["Rain on loose film: make it safe."] >= 11.0


@pytest.mark.parametrize("name", NAMES)
def test_any_name_of_a_house_prints(name: str, tmp_path: Path) -> None:
    """Nothing in a name is taken for mathematics or marks; one page, nothing overlaps."""
    plan = current(named(NAMES[name]))
    path = printed(plan, tmp_path, units="us", paper="letter")
    text = read(path)
    assert re.search(r"^Pages: +1$", run("pdfinfo", path), re.MULTILINE)
    check_words(path, "letter")
    check_content(plan, text, "us")
    if name in {"mathematics", "page marks", "long", "cyrillic", "latin"}:
        assert " ".join(NAMES[name].split()) in text
    if name == "one word":
        assert NAMES[name] in text.replace(" ", "")
    if name == "no letters for it":
        assert "?? three ?" in text


def test_the_same_bytes_whatever_the_computer_prefers(tmp_path: Path) -> None:
    """Twice, under other drawing settings, and in another process with another hash seed."""
    import matplotlib as mpl

    plan = named(NAMES["latin"])
    first = card_pdf(plan, units="us", paper="a4")
    theirs = {
        "savefig.bbox": "tight", "pdf.fonttype": 3, "font.family": "serif",
        "pdf.compression": 0, "pdf.use14corefonts": True, "lines.linewidth": 9.0,
        "text.color": "red", "savefig.facecolor": "black", "lines.linestyle": "--",
        "path.simplify": False, "lines.solid_capstyle": "round", "savefig.transparent": True,
        "font.size": 30.0, "savefig.dpi": 300, "text.antialiased": False,
    }  # fmt: skip
    with mpl.rc_context(theirs):
        assert card_pdf(plan, units="us", paper="a4") == first
    place = tmp_path / "plan.pickle"
    place.write_bytes(pickle.dumps(plan))
    code = (
        "import hashlib, pickle, sys; from pathlib import Path\n"
        "from planner.report.card.pdf import card_pdf\n"
        "plan = pickle.loads(Path(sys.argv[1]).read_bytes())\n"
        "print(hashlib.sha256(card_pdf(plan, units='us', paper='a4')).hexdigest())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(place)],
        capture_output=True, text=True, check=True, env={"PYTHONHASHSEED": "7"},
    )  # fmt: skip
    assert done.stdout.strip() == hashlib.sha256(first).hexdigest()


@pytest.fixture(scope="module")
def real() -> dict[str, Plan]:
    """The demo, and the same house with two layers and tails, the longest roof step."""
    job, weather = read_job(DATA / "larkfield.toml"), read_weather(DATA / "forecast.csv")
    film = replace(job.film, layers=2, sides="one-piece", inflation=60.0)
    return {
        "demo": make_plan(job, weather, count=40),
        "two layers": make_plan(replace(job, film=film), weather, count=40),
        "one forecast": make_plan(job, weather, error=None),
    }


@pytest.mark.parametrize("name", ["demo", "two layers", "one forecast"])
@pytest.mark.parametrize(("units", "paper"), PAIRS)
def test_a_real_plan_prints(
    real: dict[str, Plan], name: str, units: str, paper: str, tmp_path: Path
) -> None:
    """With all its phases and its pull chart, in type of at least ten points."""
    plan = real[name]
    assert min(x.size for x in laid(plan, units=units, paper=paper).marks) >= 10.0
    path = printed(plan, tmp_path, units=units, paper=paper)
    text = read(path)
    check_content(plan, text, units)
    check_words(path, paper)
    assert "mid-bay sag" in text
    assert not re.findall(r"\b(nan|members?|margin|p90|inf)\b", text, re.IGNORECASE)


def test_black_on_white() -> None:
    """Type and rules are black, the paper white."""
    width, height = PAPERS["letter"]
    figure = drawn(laid(MADE["hold"](), units="us", paper="letter"), width, height)
    assert {x.get_color() for x in (*figure.texts, *figure.lines)} == {"black"}
    assert figure.get_facecolor() == (1.0, 1.0, 1.0, 1.0)
