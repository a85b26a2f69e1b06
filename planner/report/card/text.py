"""The crew card for a printer or a chat: at most 72 columns of ASCII."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from planner.report import words as say
from planner.report.card.rows import (
    CALLER,
    MEASURED,
    OUTRANKS,
    card_rows,
)
from planner.report.reader import words_for

if TYPE_CHECKING:
    from collections.abc import Iterable

    from planner.plan.records import Plan
    from planner.report.answer.phase_rows import PhaseRow
    from planner.report.card.rows import PullTable, Work

WIDTH: Final = 72
_LABEL: Final = 9  # columns before what stands beside a label
_ROW: Final = "{:>8}  {:<{}} {:>3} {:>5} {:>11}  "
_NAME: Final = (12, 18)  # columns of a phase's name, at least and at most
_CELL: Final = 15  # columns of a pull
_READINGS: Final = 6  # rows to fill


def card_text(plan: Plan, *, units: str) -> str:
    """Write the crew card as text, to be read aloud, sent or printed anywhere.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    units : {"us", "si"}
        Which units to write.

    Returns
    -------
    str
        Lines of at most 72 columns of ASCII, ending in a line feed.
    """
    card = card_rows(plan, words_for(plan, units))
    sections = [
        [*_wrapped([card.house]), *_wrapped([card.title])],
        _beside(card.answer, (*card.said, card.use)),
        *(_work(card.work) if card.work else []),
        _beside("Cautions", card.cautions if card.work else (OUTRANKS, *card.cautions)),
        _wrapped(card.rests),
    ]
    lines = ["\n".join(x.rstrip() for x in lines) for lines in sections if lines]
    return "\n\n".join(lines) + "\n"


def _wrapped(texts: Iterable[str]) -> list[str]:
    return [line for text in texts for line in say.wrap(text, WIDTH)]


def _beside(label: str, texts: Iterable[str]) -> list[str]:
    """Write texts beside a label, each beginning a line."""
    lines: list[str] = []
    for text in texts:
        first = f"{'' if lines else label:<{_LABEL}}"
        lines += say.wrap(text, WIDTH, first=first, rest=" " * _LABEL)
    return lines


def _work(work: Work) -> list[list[str]]:
    """Write what belongs to a start."""
    wide = max(len(label) for label, _ in work.times)
    times = [f"{label.upper():<{wide}}  {clock}" for label, clock in work.times]
    stop = [OUTRANKS, *work.stops, f"{CALLER} {'_' * 24}"]
    pull = [_pull(work.pull)] if work.pull else []
    return [times, _phases(work), _beside("Stop", stop), *pull, _readings(work)]


def _phases(work: Work) -> list[str]:
    clock, what, minutes, hands, limit, sign = work.heads
    longest = max(len(say.plain(x.name)) for x in work.phases)
    wide = min(max(longest, _NAME[0]), _NAME[1])
    lines = [f"{_ROW.format(clock, what, wide, minutes, hands, limit)}{sign}"]
    for row in work.phases:
        if row.new_day:
            lines.append(f"  {row.new_day}")
        lines += _phase(row, wide)
    lines.append(f"{work.done:>8}  done")
    return [*lines, *_wrapped([work.clocks])]


def _phase(row: PhaseRow, wide: int) -> list[str]:
    """Write one phase; a long name and a long sign go on below themselves."""
    names = say.wrap(row.name, wide)
    room = len(_ROW.format("", "", wide, "", "", ""))
    signs = say.wrap(row.sign or "-", WIDTH - room)
    count = max(len(names), len(signs), 1)
    names, signs = (x + [""] * (count - len(x)) for x in (names, signs))
    first = (
        row.clock,
        names[0],
        wide,
        row.minutes,
        row.hands,
        row.in_the_hand,
    )
    below = [("", name, wide, "", "", "") for name in names[1:]]
    return [
        f"{_ROW.format(*cells)}{sign}"
        for cells, sign in zip((first, *below), signs, strict=True)
    ]


def _pull(pull: PullTable) -> list[str]:
    titles = "".join(f"{x:<{_CELL}}" for x in pull.spans)
    lines = [f"{'Film':<{_LABEL}}{titles}mid-bay sag"]
    for line in pull.lines:
        cells = "".join(f"{x:<{_CELL}}" for x in line.pulls)
        lines.append(f"{line.film:>6}   {cells}{line.check}")
    return [*lines, *_wrapped([f"{pull.expected}  {MEASURED} ______".strip()])]


def _readings(work: Work) -> list[str]:
    """Write an empty table for what is read in the hand."""
    title = "".join(f"{x:<{_CELL}}" for x in work.readings)
    return [title, *["".join(f"{'_' * 11:<{_CELL}}" for _ in work.readings)] * _READINGS]
