"""The starts that steps may be given, and whether there are hours enough for all of them.

Arrays only: what limits and weather make of a start is worked out before.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from graphlib import TopologicalSorter
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from numpy.typing import NDArray

    from planner.hours.records import Floats

    Booleans = NDArray[np.bool_]
    Integers = NDArray[np.integer]
    Names = frozenset[str]
    Steps = dict[str, "Candidates"]

#: Sums of the same weights in another order are the same to so many decimals.
DECIMALS: Final = 9
_NEVER: Final = 2**30  # later than any quarter hour or day, and small enough to add to


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidates:
    """The starts that a step may be given, and the possible weathers in which each holds.

    Attributes
    ----------
    step : str
        Its name.
    after : tuple of str
        Steps that are finished before it starts; names that are not among the
        candidates count as done.
    nights_after : int
        Nights between the end of those and its start.
    starts, ends : numpy.ndarray, shape (starts,)
        Quarter hours after the first hour, starts increasing; ends rounded up.
    start_days, end_days : numpy.ndarray, shape (starts,)
        Numbers of the local days they are on.
    ok : numpy.ndarray of bool, shape (members, starts)
        Whether the step stays inside every limit.
    stands : numpy.ndarray of bool, shape (members, hours), or None
        Hours in which what is up after this step survives alone. None where the step
        does not change that: what stood before it goes on standing.
    """

    step: str
    after: tuple[str, ...] = ()
    nights_after: int = 0
    starts: Integers
    ends: Integers
    start_days: Integers
    end_days: Integers
    ok: Booleans
    stands: Booleans | None = None


def those(step: Candidates, which: Integers) -> Candidates:
    """Give a step with some of its starts only, by their places."""
    return replace(
        step,
        starts=step.starts[which].astype(np.int32),
        ends=step.ends[which].astype(np.int32),
        start_days=step.start_days[which].astype(np.int32),
        end_days=step.end_days[which].astype(np.int32),
        ok=step.ok[:, which],
    )


def waited_for(steps: Steps, name: str) -> tuple[str, ...]:
    """Give the steps to be placed that one of them waits for."""
    return tuple(before for before in steps[name].after if before in steps)


def ready(steps: Steps, done: Collection[str]) -> Iterator[str]:
    """Give the steps that can be next, in the order given."""
    for name in steps:
        if name not in done and all(before in done for before in waited_for(steps, name)):
            yield name


def in_time(steps: Steps) -> dict[str, Booleans]:
    """Say where a start holds and leaves hours for what comes before it and after it.

    A start that does not is no use in that possible weather, however calm it is.

    Parameters
    ----------
    steps : dict of str to Candidates
        Steps to be placed, each with a start.

    Returns
    -------
    dict of str to numpy.ndarray of bool, shape (members, starts)
        No line of starts that holds is lost by it. It errs on the kind side: that the
        crew does one step at a time is not asked.
    """
    ok = {name: step.ok for name, step in steps.items()}
    order = TopologicalSorter({name: waited_for(steps, name) for name in steps}).static_order()
    pairs = [(before, name) for name in order for before in waited_for(steps, name)]
    for before, name in pairs:
        earlier, step = steps[before], steps[name]
        end = np.where(ok[before], earlier.ends, _NEVER).min(axis=1)
        day = np.where(ok[before], earlier.end_days, _NEVER).min(axis=1) + step.nights_after
        at = np.maximum(
            np.searchsorted(step.starts, end), np.searchsorted(step.start_days, day)
        )
        ok[name] = ok[name] & (np.arange(len(step.starts)) >= at[:, None])
    for before, name in reversed(pairs):
        earlier, step = steps[before], steps[name]
        start = last_start(step.starts, ok[name])[:, None]
        day = last_start(step.start_days, ok[name])[:, None] - step.nights_after
        ok[before] = ok[before] & (earlier.ends <= start) & (earlier.end_days <= day)
    return ok


def last_start(starts: Integers, ok: Booleans) -> Integers:
    """Give the last start that holds, or its day, shape (members,); negative without one."""
    back = ok[:, ::-1].argmax(axis=1)
    return np.where(ok.any(axis=1), starts[len(starts) - 1 - back], -_NEVER)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Way:
    """Some steps done as early as can be, in each possible weather.

    ``finish`` is the quarter hour, shape (members,); ``days`` those on which the steps
    ended that another still waits for over night.
    """

    finish: Integers
    days: dict[str, Integers]

    def as_early(self, other: _Way) -> bool:
        """Say whether it is nowhere later than another way of doing the same steps."""
        return bool((self.finish <= other.finish).all()) and all(
            (day <= other.days[name]).all() for name, day in self.days.items()
        )


def hours_enough(steps: Steps, weights: Floats) -> dict[Names, float]:
    """Give the share of possible weathers that have hours for some or all of the steps.

    Says what can be done at all, one way or another, before any start is chosen.

    Parameters
    ----------
    steps : dict of str to Candidates
        Steps to be placed.
    weights : numpy.ndarray, shape (members,)
        Adding up to 1 [-].

    Returns
    -------
    dict of frozenset of str to float
        By the names of the steps done, where the share is not nil [-]. Waits in between
        are not looked at.

    Notes
    -----
    Steps in a given order are done earliest by taking for each the start that ends first.
    So sets are built up step by step, and of two ways to the same set the earlier is kept,
    in each possible weather by itself. If a night must follow a step, one way may end that
    step earlier and another be finished earlier; then both are kept, up to ``order_beam``.
    """
    soonest = {name: _soonest(step) for name, step in steps.items() if len(step.starts)}
    enough: dict[Names, float] = {}
    sets = {frozenset[str](): [_Way(finish=np.zeros(len(weights), dtype=int), days={})]}
    while sets:
        larger: dict[Names, list[_Way]] = {}
        for done, ways in sets.items():
            share = weights @ np.any([way.finish < _NEVER for way in ways], axis=0)
            if share <= 0.0:
                continue
            enough[done] = round(float(share), DECIMALS)
            for name in ready(steps, done):
                if name not in soonest:
                    continue
                with_it = done | {name}
                nights = _open_nights(steps, with_it)
                for way in ways:
                    longer = _longer(way, steps[name], soonest[name], nights)
                    larger[with_it] = _earliest(larger.get(with_it, []), longer)
        sets = larger
    return enough


def _soonest(step: Candidates) -> Integers:
    """Give the earliest end if begun at a start or later, shape (starts + 1, members)."""
    members, starts = step.ok.shape
    ends = np.full((starts + 1, members), _NEVER, dtype=np.int32)
    np.copyto(ends[:-1], step.ends[:, None], where=step.ok.T)
    return np.minimum.accumulate(ends[::-1], axis=0)[::-1]


def _open_nights(steps: Steps, done: Names) -> tuple[str, ...]:
    """Give the steps done that one not done waits for over night."""
    waiting = [x for name, x in steps.items() if name not in done and x.nights_after]
    return tuple(x for x in steps if x in done and any(x in y.after for y in waiting))


def _longer(way: _Way, step: Candidates, soonest: Integers, nights: tuple[str, ...]) -> _Way:
    """Add a step to a way, as early as can be."""
    at = np.searchsorted(step.starts, way.finish)
    for name in step.after:
        if name in way.days:
            day = way.days[name] + step.nights_after
            at = np.maximum(at, np.searchsorted(step.start_days, day))
    finish = soonest[at, np.arange(len(at))]
    by_end = np.argsort(step.ends, kind="stable")
    ended = np.searchsorted(step.ends, finish, sorter=by_end)
    own = step.end_days[by_end[np.minimum(ended, len(by_end) - 1)]]
    return _Way(finish=finish, days={x: own if x == step.step else way.days[x] for x in nights})


def _earliest(ways: list[_Way], new: _Way) -> list[_Way]:
    """Keep a new way beside or instead of others, unless one of them is as early."""
    if ways and not new.days:
        return [_Way(finish=np.minimum(ways[0].finish, new.finish), days={})]
    if any(way.as_early(new) for way in ways):
        return ways
    kept = [way for way in ways if not new.as_early(way)]
    return [*kept, new][: int(value("planning", "order_beam"))]
