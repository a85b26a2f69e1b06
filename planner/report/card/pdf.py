"""The crew card: one plain ruled page for the pocket, black on white, PDF."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from planner.report.card.layout import MARGIN, Look, lay_out
from planner.report.card.rows import card_rows
from planner.report.card.type import face, shown
from planner.report.reader import words_for

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.figure import Figure

    from planner.plan.records import Plan
    from planner.report.card.layout import Page
    from planner.report.card.rows import Card

#: Width and height of the paper [in].
PAPERS: Final = {"letter": (8.5, 11.0), "a4": (210.0 / 25.4, 297.0 / 25.4)}
_STYLE: Final[dict[Any, Any]] = {
    "pdf.fonttype": 42,  # the type goes into the file, and its text can be copied out
}
_LARGE: Final = tuple(1.25 - 0.025 * at for at in range(11))  # down to the type's least size
_READINGS: Final = (8, 6)  # rows to fill
_FEWER: Final = (6, 5, 4, 3, 2, 0)
_TIGHT: Final = 0.5  # of the room around rules, where the page is full
_SMALLER: Final = 0.96


def card_pdf(plan: Plan, *, units: str, paper: str) -> bytes:
    """Print the crew card: what a crew lead needs on the roof, on one page.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    units : {"us", "si"}
        Which units to write.
    paper : {"letter", "a4"}
        Which paper.

    Returns
    -------
    bytes
        A PDF of one page, the same for the same plan every time.

    Notes
    -----
    The type is as large as the page allows. A long step first costs size, down to 10
    points, then room around rules, then cautions and stop lines run on, then rows to
    write readings in go, and only then is the type smaller still.
    """
    import matplotlib as mpl

    card = card_rows(plan, words_for(plan, units))
    width, height = PAPERS[paper]
    about = {"Title": shown(f"Crew card, {plan.job.name}: {card.title}"), "CreationDate": None}
    file = io.BytesIO()
    with mpl.rc_context():
        mpl.rcdefaults()  # whatever this computer's own settings are
        mpl.rcParams.update(_STYLE)
        figure = drawn(fitted(card, width, height), width, height)
        figure.savefig(file, format="pdf", metadata=about)
    return file.getvalue()


def fitted(card: Card, width: float, height: float) -> Page:
    """Lay the card out as large as it fits.

    Parameters
    ----------
    card : Card
        Its content.
    width, height : float
        Of the paper [in].

    Returns
    -------
    Page
        Laid out, not yet drawn.
    """
    looks = _looks()
    page = lay_out(card, width=width, look=next(looks))
    while page.y > height - MARGIN:
        page = lay_out(card, width=width, look=next(looks))
    return page


def _looks() -> Iterator[Look]:
    for scale in _LARGE:
        for readings in _READINGS:
            yield Look(scale=scale, readings=readings)
    tight = Look(scale=_LARGE[-1], readings=_READINGS[-1], space=_TIGHT)
    yield tight
    yield replace(tight, running=(True, False))
    for readings in _FEWER:
        yield replace(tight, running=(True, True), readings=readings)
    scale = tight.scale
    while True:
        scale *= _SMALLER
        yield replace(tight, running=(True, True), readings=0, scale=scale)


def drawn(page: Page, width: float, height: float) -> Figure:
    """Draw what was laid out.

    Parameters
    ----------
    page : Page
        Laid out.
    width, height : float
        Of the paper [in].

    Returns
    -------
    matplotlib.figure.Figure
        One page, black on white.
    """
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    figure = Figure(figsize=(width, height), facecolor="white")
    for mark in page.marks:
        figure.text(
            mark.x / width,
            1.0 - mark.y / height,
            mark.text,
            fontproperties=face(mark.bold),
            size=mark.size,
            color="black",
            va="baseline",
            parse_math=False,
        )
    for rule in page.rules:
        line = Line2D(
            (rule.x / width, rule.end / width),
            (1.0 - rule.y / height,) * 2,
            color="black",
            linewidth=rule.thick,
            transform=figure.transFigure,
        )
        figure.add_artist(line)
    return figure
