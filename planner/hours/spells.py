"""Spells: which starts belong together, and which of them is told of.

With one certain weather a spell is a run of starts that hold. With several the chance
rises and falls from start to start, and a spell is a hump of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from planner.hours.records import Floats

    Booleans = NDArray[np.bool_]
    Integers = NDArray[np.int_]

_HUNDRED: Final = 100  # chances are told apart to one in a hundred


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """A best start with the first and last of the starts around it, by their places."""

    best: int
    first: int
    last: int


def find_spells(
    chance: Floats, margin: Floats, ends: Floats, *, open_to: Booleans
) -> tuple[Spell, ...]:
    """Find the spells among the starts of a step, likeliest first.

    Parameters
    ----------
    chance : numpy.ndarray, shape (starts,)
        That a start holds [-].
    margin : numpy.ndarray, shape (starts,)
        Room to the limits [-].
    ends : numpy.ndarray, shape (starts,)
        When the step ends, counted in starts [-].
    open_to : numpy.ndarray of bool, shape (starts,)
        Whether a start is to be considered at all.

    Returns
    -------
    tuple of Spell
        Best starts do not overlap, ranges of starts do not either.

    Notes
    -----
    The likeliest start is taken, of equal ones (to one in a hundred) that with the most
    room, then the earliest. Its range goes on earlier and later while the chance falls
    by no more than ``spell_slack``, and not below ``least_chance_go`` if it has that.
    Starts in the range are taken out, and so are those
    that would overlap the best start and its end. The next is the likeliest of the rest
    that stands on a hump of its own: going either way, the first start of another chance,
    taken out or not, is a worse one. It ends below ``least_chance_listed``, or after
    ``spells_listed`` spells if the next is less likely than the best by more than the slack.
    """
    hundredths = np.where(open_to, np.rint(chance * _HUNDRED), -1).astype(int)
    order = np.lexsort((np.arange(len(chance)), -np.minimum(margin, 1.0).round(2), -hundredths))
    slack = round(_HUNDRED * value("planning", "spell_slack"))
    go = math.ceil(_HUNDRED * value("planning", "least_chance_go"))
    humps = _humps(hundredths)
    in_range = np.zeros(len(chance), dtype=bool)
    overlaps = np.zeros(len(chance), dtype=bool)
    starts = np.arange(len(chance))
    found: list[Spell] = []
    for best in _worth_listing(order, hundredths):
        if in_range[best] or overlaps[best] or not humps[best]:
            continue
        if len(found) >= value("planning", "spells_listed") and (
            hundredths[best] < hundredths[order[0]] - slack
        ):
            break
        least = hundredths[best] - slack
        if hundredths[best] >= go:
            least = max(least, go)
        near = (hundredths <= hundredths[best]) & (hundredths >= least)
        first, last = _around(best, near & ~in_range)
        found.append(Spell(best=best, first=first, last=last))
        in_range[first : last + 1] = True
        overlaps |= (starts < ends[best]) & (ends > best)
    return tuple(found)


def _worth_listing(order: Integers, hundredths: Integers) -> Iterator[int]:
    """Give the starts in order, down to the least chance that is listed."""
    least = _HUNDRED * value("planning", "least_chance_listed")
    yield from (int(start) for start in order if hundredths[start] >= least)


def _humps(heights: Integers) -> Booleans:
    """Say which places lie on a stretch of one height with lower ones on either side."""
    edges = np.flatnonzero(np.diff(heights)) + 1
    stretch = np.zeros(len(heights), dtype=int)
    stretch[edges] = 1
    own = heights[np.concatenate([[0], edges])] if len(heights) else heights
    lowest = np.iinfo(own.dtype).min
    before, after = np.append(lowest, own[:-1]), np.append(own[1:], lowest)
    return np.asarray(((own > before) & (own > after))[np.cumsum(stretch)])


def _around(place: int, good: Booleans) -> tuple[int, int]:
    """Give the first and last place of the run of good ones around one of them."""
    bad = np.flatnonzero(~good)
    at = int(np.searchsorted(bad, place))
    first = int(bad[at - 1]) + 1 if at else 0
    last = int(bad[at]) - 1 if at < len(bad) else len(good) - 1
    return first, last
