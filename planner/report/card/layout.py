"""Where everything on the crew card stands: lines of text measured, columns, rules.

Nothing is drawn here. Places are in inches from the top left corner of the page, sizes of
type in points.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from planner.report.card.rows import CALLER, MEASURED, OUTRANKS
from planner.report.card.type import POINT, broken, measured, shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from planner.report.card.rows import Card, PullTable, Work

    #: Left and right of a column [in].
    Place = tuple[float, float]

MARGIN: Final = 0.45
_LINE: Final = 1.18  # height of a line over the size of its type
_BASE: Final = 0.95  # from the top of a line to the foot of its letters, the same
_GAP: Final = 0.11  # between two columns, at least [in]
_THICK: Final = 1.4  # a rule that parts two sections [pt]
_THIN: Final = 0.5  # a rule between two rows [pt]
#: Sizes of type at scale 1 [pt].
_SMALL: Final = 10.0
_TABLE: Final = 11.0
_TITLE: Final = 14.0
_CLOCK: Final = 21.0
_ANSWER: Final = 30.0
_CHART: Final = 0.57  # share of the width that the pull chart takes
_SPARE: Final = 0.01  # by which a column is wider than what is measured [in]
_WRITE: Final = 0.29  # height of a row to write in [in]


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How large the type is, and what is given up to keep it so.

    ``scale`` multiplies every size of type [-]; ``readings`` is how many rows there are to
    write in where no pull chart stands beside them [-]; ``running`` says for cautions,
    and for stop lines, that they run on instead of beginning a line each; ``space``
    multiplies the room around rules [-].
    """

    scale: float
    readings: int
    running: tuple[bool, bool] = (False, False)
    space: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A line of text: ``x`` its left end, ``y`` the foot of its letters [in]."""

    x: float
    y: float
    text: str
    size: float
    bold: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A level rule from ``x`` to ``end`` [in], ``thick`` [pt]."""

    x: float
    end: float
    y: float
    thick: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A text between two places [in], at the left one or, if told, ending at the right one."""

    x: float
    end: float
    text: str
    bold: bool = False
    ends: bool = False


@dataclass(slots=True, kw_only=True)
class Page:
    """A page that is being filled from the top; ``y`` is how far it is full [in]."""

    left: float
    right: float
    y: float
    look: Look
    marks: list[Mark] = field(default_factory=list)
    rules: list[Rule] = field(default_factory=list)

    def size(self, size: float) -> float:
        """Give a size of type at the page's scale [pt]."""
        return size * self.look.scale

    def text(self, text: str, size: float, *, bold: bool = False) -> None:
        """Write a text across the page and go below it."""
        self.row((Cell(x=self.left, end=self.right, text=text, bold=bold),), size)

    def row(self, cells: Iterable[Cell], size: float) -> None:
        """Write cells side by side, broken into lines, and go below the longest."""
        size = self.size(size)
        most = 0
        for cell in cells:
            lines = broken(cell.text, cell.end - cell.x, size=size, bold=cell.bold)
            most = max(most, len(lines))
            for at, line in enumerate(lines):
                x = cell.x
                if cell.ends:
                    x = cell.end - measured(line, size=size, bold=cell.bold)
                foot = self.y + (at * _LINE + _BASE) * size * POINT
                self.marks.append(Mark(x=x, y=foot, text=line, size=size, bold=cell.bold))
        self.y += most * _LINE * size * POINT

    def texts(self, texts: Sequence[str], size: float, *, running: bool) -> None:
        """Write texts below each other, or one after the other."""
        for text in (" ".join(texts),) if running else texts:
            self.text(text, size)

    def rule(self, thick: float = _THIN, *, space: float = 0.03) -> None:
        """Draw a rule across, with space above and below it [in]."""
        space *= self.look.space
        self.y += space
        self.rules.append(Rule(x=self.left, end=self.right, y=self.y, thick=thick))
        self.y += space


def lay_out(card: Card, *, width: float, look: Look) -> Page:
    """Put the content of a card on a page.

    Parameters
    ----------
    card : Card
        Its content.
    width : float
        Of the page [in].
    look : Look
        Size of type, rows to write in.

    Returns
    -------
    Page
        Its marks and rules, and how far down they reach.
    """
    page = Page(left=MARGIN, right=width - MARGIN, y=MARGIN, look=look)
    _head(page, card)
    if card.work:
        _times(page, card.work)
        _phases(page, card.work)
        _stops(page, card.work)
        _tables(page, card.work)
    _foot(page, card)
    return page


def _head(page: Page, card: Card) -> None:
    """Write the answer as a large word, what it is about and what goes with it beside it."""
    left = page.left
    page.text(card.house, _SMALL)
    page.rule(_THICK, space=0.05)
    top = page.y
    page.text(card.answer, _ANSWER, bold=True)
    bottom, page.y = page.y, top
    page.left += measured(card.answer, size=page.size(_ANSWER), bold=True) + 2 * _GAP
    page.text(card.title, _TITLE, bold=True)
    for text in card.said:
        page.text(text, _TABLE)
    page.text(card.use, _TABLE, bold=True)
    page.left, page.y = left, max(page.y, bottom)
    page.rule(_THICK, space=0.05)


def _times(page: Page, work: Work) -> None:
    each = (page.right - page.left) / len(work.times)
    places = _places(page.left, [each - _GAP] * len(work.times), gap=_GAP)
    labels, clocks = zip(*work.times, strict=True)
    page.row(_cells(places, [x.upper() for x in labels]), _SMALL)
    page.row(_cells(places, clocks, bold=places), _CLOCK)
    page.rule(_THICK, space=0.05)


def _cells(
    places: Sequence[Place],
    texts: Sequence[str],
    *,
    bold: Sequence[Place] = (),
    ends: Sequence[Place] = (),
) -> list[Cell]:
    """Put a text at each place; name the places of heavy ones and of those set right."""
    return [
        Cell(x=at[0], end=at[1], text=text, bold=at in bold, ends=at in ends)
        for at, text in zip(places, texts, strict=True)
    ]


def _phases(page: Page, work: Work) -> None:
    """Write the table of phases; name and sign share what the numbers leave."""
    rows = [
        (
            x.clock,
            x.name,
            f"{x.minutes}",
            f"{x.hands}",
            x.in_the_hand,
            x.sign or "-",
        )
        for x in work.phases
    ]
    places = _columns(page, [work.heads, *rows])
    clock, what, *numbers, _ = places
    heavy = (clock, numbers[-1])
    page.row(_cells(places, work.heads, ends=numbers), _SMALL)
    page.rule()
    for phase, row in zip(work.phases, rows, strict=True):
        if phase.new_day:
            page.text(phase.new_day, _TABLE, bold=True)
            page.rule()
        page.row(_cells(places, row, bold=heavy, ends=numbers), _TABLE)
        page.rule()
    page.row(_cells((clock, what), (work.done, "done"), bold=(clock,)), _TABLE)
    page.text(work.clocks, _SMALL)
    page.rule(_THICK, space=0.05)


def _columns(page: Page, rows: Sequence[Sequence[str]]) -> list[Place]:
    """Give left and right of each column: numbers as wide as they are, words what is left."""
    wide = _widths(rows, head=page.size(_SMALL), size=page.size(_TABLE))
    room = page.right - page.left - sum(wide[at] for at in (0, 2, 3, 4)) - 5 * _GAP
    wide[1] = min(wide[1], max(0.4 * room, room - wide[5]))
    wide[5] = room - wide[1]
    return _places(page.left, wide, gap=_GAP)


def _widths(rows: Sequence[Sequence[str]], *, head: float, size: float) -> list[float]:
    """Give the width that each column needs, the first row a head in other type [in]."""
    return [
        max(
            measured(shown(column[0]), size=head, bold=False),
            *(measured(shown(x), size=size, bold=True) for x in column[1:]),
        )
        + _SPARE
        for column in zip(*rows, strict=True)
    ]


def _places(x: float, wide: Sequence[float], *, gap: float) -> list[Place]:
    places = []
    for each in wide:
        places.append((x, x + each))
        x += each + gap
    return places


def _stops(page: Page, work: Work) -> None:
    page.text(OUTRANKS, _TABLE, bold=True)
    page.texts(work.stops, _TABLE, running=page.look.running[1])
    _blank(page, CALLER, _TABLE)
    page.rule(_THICK, space=0.05)


def _blank(page: Page, label: str, size: float) -> None:
    """Write a label with a rule beside it to write on."""
    page.y += 0.1
    page.text(label, size, bold=True)
    begin = page.left + measured(label, size=page.size(size), bold=True) + 0.05
    page.rules.append(Rule(x=begin, end=page.right, y=page.y - 0.04, thick=_THIN))


def _tables(page: Page, work: Work) -> None:
    """Write the pull chart, and beside it the table to fill; without one, that alone."""
    top, bottom, whole = page.y, page.y, (page.left, page.right)
    rows = page.look.readings
    if work.pull:
        middle = page.left + _CHART * (page.right - page.left)
        page.right = middle - _GAP
        _pull(page, work.pull)
        bottom, page.y = page.y, top
        page.left, page.right = middle + _GAP, whole[1]
        head = _LINE * page.size(_SMALL) * POINT
        rows = int((bottom - top - head) / _WRITE)
    if rows:
        _readings(page, work.readings, rows)
    page.left, page.right = whole
    page.y = max(page.y, bottom)
    page.rule(_THICK, space=0.07)


def _pull(page: Page, pull: PullTable) -> None:
    rows = [(x.film, *x.pulls, x.check) for x in pull.lines]
    heads = ("film", *pull.spans, "mid-bay sag")
    size = page.size(_SMALL)
    wide = _widths([heads, *rows], head=size, size=size)
    gap = max((page.right - page.left - sum(wide)) / (len(wide) - 1), 0.0)
    places = _places(page.left, wide, gap=gap)
    page.row(_cells(places, heads), _SMALL)
    for row in rows:
        page.rule(space=0.02)
        page.row(_cells(places, row, bold=places[:1]), _SMALL)
    page.rule(space=0.02)
    if pull.expected:
        page.text(pull.expected, _SMALL)
    _blank(page, MEASURED, _SMALL)


def _readings(page: Page, heads: Sequence[str], rows: int) -> None:
    """Draw the table to fill, its columns as much wider than their heads as there is room."""
    wide = [measured(x, size=page.size(_SMALL), bold=False) + _SPARE for x in heads]
    more = (page.right - page.left - sum(wide)) / len(wide)
    page.row(_cells(_places(page.left, wide, gap=more), heads), _SMALL)
    page.rule(space=0.02)
    for _ in range(rows):
        page.y += _WRITE
        page.rule(space=0.0)


def _foot(page: Page, card: Card) -> None:
    first = () if card.work else (OUTRANKS,)
    page.texts((*first, *card.cautions), _SMALL, running=page.look.running[0])
    page.rule(_THIN, space=0.04)
    page.text(" ".join(card.rests), _SMALL)
