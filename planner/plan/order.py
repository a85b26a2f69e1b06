"""The order of steps over the days: which start for each, all together, for one crew.

Each step has its own best hours, and those of two steps may be the same, or good in
different possible weathers. So starts are chosen together: a line of starts is worth
the share of possible weathers in which every one of them holds, and in which what is
up stands alone from each stop to the next start.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.hours.spans import QUARTERS
from planner.plan.candidates import (
    DECIMALS,
    Candidates,
    hours_enough,
    in_time,
    last_start,
    ready,
    those,
)
from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.hours.records import Floats
    from planner.plan.candidates import Booleans, Integers, Names, Steps

    #: Possible weathers packed eight to a byte, on the last axis.
    Bits = NDArray[np.uint8]

__all__ = ["Candidates", "Order", "Placed", "order_steps"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A step with its place: start and end in quarter hours, and its own chance [-]."""

    step: str
    start: int
    end: int
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """Steps in the order in which they are done.

    Attributes
    ----------
    placed : tuple of Placed
        By start.
    chance : float
        Share of possible weathers in which every start holds and what is up stands every
        wait between; 0 if a step is missing [-].
    chance_all : float
        Share of possible weathers with hours enough to do all steps, one way or another:
        each weather may have its own line of starts [-].
    missing : tuple of str
        Steps without a place, in the order given.
    """

    placed: tuple[Placed, ...]
    chance: float
    chance_all: float
    missing: tuple[str, ...]


def order_steps(
    candidates: Sequence[Candidates], weights: Floats, *, first: tuple[str, int] | None = None
) -> Order:
    """Choose a start for each step so that all of them together are likeliest to hold.

    The answer to "what do we do on which day?": one crew, one step at a time.

    Parameters
    ----------
    candidates : sequence of Candidates
        The steps still to do.
    weights : numpy.ndarray, shape (members,)
        Of the possible weathers, adding up to 1 [-].
    first : tuple of str and int, optional
        A step and the start that it has for certain; the rest is laid around it. Without
        such a start, or if what it waits for cannot be done before, it is missing.

    Returns
    -------
    Order
        The best line of starts that was found: the likeliest, then the one that is
        finished earliest. If in no possible weather there are hours for all steps, the
        most that can be done are placed and the others are missing. With nothing missing
        a chance of 0 says that in no possible weather the waits are stood as well; the
        line is then the best without asking that.

    Notes
    -----
    At most ``order_candidates`` starts a step are tried: the best of each day, then the
    best of each hour, then the next best; before that, a start stops counting in a
    possible weather in which what it waits for cannot be done before it, or what waits
    for it cannot be done after. Lines grow start by start in time, and the ``order_beam``
    likeliest are kept; if that is all of them, the answer is the best there is.

    Whole hours between the end of a step and the start of the next must be stood; the
    state is that after the last step that changed it. Nothing is asked before the first
    step and after the last one. ``chance_all`` looks at every start and every order, and
    not at ``first`` nor at the waits: it says whether there are hours enough. Steps that
    wait for each other in a ring, which the job file refuses, have no place.
    """
    steps = {x.step: those(x, np.flatnonzero(x.ok.any(axis=0))) for x in candidates}
    enough = hours_enough(steps, weights)
    chance_all = enough.get(frozenset(steps), 0.0)
    if first is not None and first[0] in steps:
        step = steps[first[0]]
        steps[step.step] = those(step, np.flatnonzero(step.starts == first[1]))
        enough = hours_enough(steps, weights)

    def worth(names: Names) -> tuple[bool, int, float]:
        return (first is None or first[0] in names, len(names), enough[names])

    starts, chance, names = dict[str, int](), 0.0, frozenset[str]()
    for names in sorted(enough, key=worth, reverse=True):
        starts, chance = _together({x: steps[x] for x in steps if x in names}, weights)
        if len(starts) == len(names):
            break
    return Order(
        placed=tuple(_placed(steps[name], start, weights) for name, start in starts.items()),
        chance=chance if len(names) == len(steps) else 0.0,
        chance_all=chance_all,
        missing=tuple(name for name in steps if name not in names),
    )


def _placed(step: Candidates, start: int, weights: Floats) -> Placed:
    """Give the place of a step that starts at a quarter hour."""
    at = int(np.searchsorted(step.starts, start))
    own = round(float(weights @ step.ok[:, at]), DECIMALS)
    return Placed(step=step.step, start=start, end=int(step.ends[at]), chance=own)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    """Starts in time, by their places among the candidates, and where all of them hold.

    ``up`` is the step whose state stands meanwhile.
    """

    taken: dict[str, int]
    alive: Bits
    up: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Field:
    """What lines are made of: few starts a step, members packed to bits.

    ``falls`` is by step the first hour from an hour on that its state does not stand,
    shape (hours + 1, members); ``share`` the weight of each value of each byte, shape
    (bytes, 256). ``stood`` and ``room`` remember what has been worked out.
    """

    steps: Steps
    holds: dict[str, Bits]
    falls: dict[str, Integers]
    share: Floats
    stood: dict[tuple[str, int, str], Bits] = field(default_factory=dict)
    room: dict[tuple[Names, str], Bits] = field(default_factory=dict)

    def chance(self, alive: Bits) -> Floats:
        """Weighted share of the members that are left, shape (lines,) [-]."""
        each = self.share[np.arange(alive.shape[1]), alive]
        return np.asarray(each.sum(axis=1).round(DECIMALS))

    def stood_until(self, name: str, up: str, hour: int) -> Bits:
        """Where a state stands from an hour to each start of a step, (starts, bytes)."""
        if (up, hour, name) not in self.stood:
            starts = self.steps[name].starts[:, None] // QUARTERS
            self.stood[up, hour, name] = np.packbits(starts <= self.falls[up][hour], axis=1)
        return self.stood[up, hour, name]

    def room_after(self, rest: Names, name: str) -> Bits:
        """Where each end of a step leaves hours for each one of the rest, (starts, bytes)."""
        if (rest, name) not in self.room:
            each = [last_start(x.starts, x.ok) for x in self.steps.values() if x.step in rest]
            ends = self.steps[name].ends[:, None]
            self.room[rest, name] = np.packbits(ends <= np.min(each, axis=0), axis=1)
        return self.room[rest, name]

    def earliest_day(self, name: str, taken: dict[str, int]) -> int:
        """First day on which a step may start, as far as what it waits for has a place."""
        step = self.steps[name]
        days = [int(self.steps[x].end_days[taken[x]]) for x in step.after if x in taken]
        return max(days) + step.nights_after if days else int(step.start_days[0])

    def days_to_wait_for(self, taken: dict[str, int]) -> tuple[int, ...]:
        """First days of the steps without a place that wait over night."""
        return tuple(
            self.earliest_day(name, taken)
            for name, step in self.steps.items()
            if step.nights_after and name not in taken
        )


def _together(steps: Steps, weights: Floats) -> tuple[dict[str, int], float]:
    """Give the best start for each step, in time, and the chance of all of them.

    Empty where no line holds in any possible weather.
    """
    few = {
        name: _few(replace(steps[name], ok=ok), weights) for name, ok in in_time(steps).items()
    }
    padded = np.zeros(-(-len(weights) // 8) * 8)
    padded[: len(weights)] = weights
    every_byte = np.unpackbits(np.arange(256, dtype=np.uint8)[:, None], axis=1)
    made_of = _Field(
        steps=few,
        holds={name: np.packbits(step.ok.T, axis=1) for name, step in few.items()},
        falls={
            name: _falls(step.stands) for name, step in few.items() if step.stands is not None
        },
        share=padded.reshape(-1, 8) @ every_byte.T,
    )
    line = _best_line(made_of)
    chance = 0.0 if line is None else float(made_of.chance(line.alive[None])[0])
    if line is None and made_of.falls:
        line = _best_line(replace(made_of, falls={}))
    taken = {} if line is None else line.taken
    return {name: int(few[name].starts[at]) for name, at in taken.items()}, chance


def _falls(stands: Booleans) -> Integers:
    """Give the first hour from each hour on that is not stood, shape (hours + 1, members)."""
    members, hours = stands.shape
    falls = np.full((hours + 1, members), hours + 1)
    falls[:-1] = np.where(stands.T, hours + 1, np.arange(hours)[:, None])
    return np.minimum.accumulate(falls[::-1], axis=0)[::-1]


def _few(step: Candidates, weights: Floats) -> Candidates:
    """Keep few starts: the best of each day, the best of each hour, the next best."""
    share = weights @ step.ok
    chance = share.round(DECIMALS)
    by_chance = np.lexsort((step.starts, -chance))
    turn = np.full(len(chance), 2)
    for part, number in ((step.starts // QUARTERS, 1), (step.start_days, 0)):
        _, best = np.unique(part[by_chance], return_index=True)
        turn[by_chance[best]] = number
    kept = np.lexsort((step.starts, -chance, turn))
    kept = kept[share[kept] > 0.0][: int(value("planning", "order_candidates"))]
    return those(step, np.sort(kept))


def _best_line(made_of: _Field) -> _Line | None:
    """Grow lines start by start, keeping the best; None where none holds at all."""
    lines = [_Line(taken={}, alive=np.full(len(made_of.share), 255, dtype=np.uint8))]
    for _ in made_of.steps:
        lines = _likeliest(made_of, lines)
    return lines[0] if lines else None


def _likeliest(made_of: _Field, lines: list[_Line]) -> list[_Line]:
    """Give the likeliest lines that are one start longer, of equal ones the earliest.

    Of lines that nothing to come can tell apart, the first is kept.
    """
    each = [(line, name) for line in lines for name in ready(made_of.steps, line.taken)]
    grown = [_grown(made_of, line, name) for line, name in each]
    if not grown:
        return []
    places, alive = (np.concatenate(part) for part in zip(*grown, strict=True))
    of = np.repeat(np.arange(len(each)), [len(at) for at, _ in grown])
    ends = np.concatenate(
        [made_of.steps[name].ends[at] for (_, name), (at, _) in zip(each, grown, strict=True)]
    )
    chance = made_of.chance(alive)
    most = int(value("planning", "order_beam"))
    kept: dict[object, _Line] = {}
    for best in np.lexsort((ends, -chance)):
        if chance[best] <= 0.0 or len(kept) == most:
            break
        line, name = each[of[best]]
        taken = line.taken | {name: int(places[best])}
        up = name if name in made_of.falls else line.up
        days = made_of.days_to_wait_for(taken)
        same = (frozenset(taken), int(ends[best]), up, days, alive[best].tobytes())
        kept.setdefault(same, _Line(taken=taken, alive=alive[best], up=up))
    return list(kept.values())


def _grown(made_of: _Field, line: _Line, name: str) -> tuple[Integers, Bits]:
    """Give the starts that a step can have after a line, and where all of it holds then."""
    step = made_of.steps[name]
    end = 0
    if line.taken:
        last, place = next(reversed(line.taken.items()))
        end = int(made_of.steps[last].ends[place])
    day = made_of.earliest_day(name, line.taken)
    at = np.flatnonzero((step.starts >= end) & (step.start_days >= day))
    alive = line.alive & made_of.holds[name][at]
    rest = frozenset(made_of.steps).difference(line.taken, (name,))
    if rest:
        alive &= made_of.room_after(rest, name)[at]
    if line.up is not None:
        alive &= made_of.stood_until(name, line.up, -(-end // QUARTERS))[at]
    return at, alive
