"""What stands in the calendar: which entries a plan makes, when, and in what words."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import pandas as pd

from planner.plan.decide import evening
from planner.plan.locks import moment_of_locks
from planner.reference.tables import value
from planner.report import words as say
from planner.report.answer.answer import answer
from planner.report.answer.phase_rows import phase_rows
from planner.report.answer.why import why
from planner.report.chances import holds
from planner.report.yard.checklists import at_first_light, evening_before
from planner.report.yard.daylight import in_hand, work_light
from planner.report.yard.tension import at_the_locks, band
from planner.report.yard.tonight import tonight

if TYPE_CHECKING:
    from planner.hours.records import Window
    from planner.plan.records import Plan
    from planner.report.answer.phase_rows import PhaseRow
    from planner.report.words import Words

#: Every kind of entry, in the order of the file, and what it is called when withdrawn.
KINDS: Final = {
    "look-again": "look again",
    "call": "call the crew",
    "start": "start",
    "last-start": "last start",
    "down-by": "be down by",
    "first-night": "check after the first night",
}
_HOLD: Final = " (hold: look again first)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of the calendar.

    Attributes
    ----------
    kind : str
        A key of ``KINDS``.
    title : str
        Without the name of the job.
    lines : tuple of str
        What it says, without what stands below every entry.
    at, until : pandas.Timestamp
        When it begins, and ends if it lasts.
    alarms : tuple of int
        So long before it one rings [min].
    status : {"CONFIRMED", "TENTATIVE", "CANCELLED"}
        "TENTATIVE" where the plan says hold.
    """

    kind: str
    title: str
    lines: tuple[str, ...]
    at: pd.Timestamp
    until: pd.Timestamp | None = None
    alarms: tuple[int, ...] = ()
    status: str = "CONFIRMED"


def entries(plan: Plan, words: Words) -> tuple[Entry, ...]:
    """Give the entries that make sense for the answer.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of Entry
        For a go, and for a hold whose window is still ahead when it is looked at again,
        what belongs to the window; the time to look again wherever there is one.
    """
    found = [*_look_again(plan, words)]
    window = plan.decision.window
    if window is not None and _ahead(plan, window):
        found += _call(plan, window, words)
        found += _work(plan, window, words)
        found += _first_night(plan, window, words)
    return tuple(found)


def _ahead(plan: Plan, window: Window) -> bool:
    """Whether the window is a go, or can still become one; never of past weather."""
    again = plan.decision.look_again
    if plan.weather.kind == "observed":
        return False
    return plan.decision.answer == "go" or again is None or again <= window.latest_start


def answered(plan: Plan, words: Words) -> tuple[str, ...]:
    """Give the answer as lines, its word before the first.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of str
        ``"GO: Roof sheet today."`` and what stands below it.
    """
    said = answer(plan, words)
    return f"{said.word}: {said.headline}", *said.lines[1:]


def _hold(plan: Plan) -> tuple[str, str]:
    """Give the end of a title and the status."""
    return ("", "CONFIRMED") if plan.decision.answer == "go" else (_HOLD, "TENTATIVE")


def _look_again(plan: Plan, words: Words) -> list[Entry]:
    again, step = plan.decision.look_again, plan.decision.step
    if again is None:
        return []
    return [
        Entry(
            kind="look-again",
            title=f"Look again: {step or 'film'}",
            lines=(
                "Get a newer forecast and make the plan again.",
                *answered(plan, words),
                *why(plan, words),
            ),
            at=max(again, plan.now),
            alarms=(0,) if again > plan.now else (),
        )
    ]


def _call(plan: Plan, window: Window, words: Words) -> list[Entry]:
    """Call the evening before; at once for a go or when the evening has begun."""
    day = words.date(window.start)
    eve = evening(day - dt.timedelta(days=1), plan.now.tz_convert(plan.time_zone))
    going = plan.decision.answer == "go" or plan.weather.members == 1
    if eve <= plan.now and not going and "call-crew" not in plan.decision.codes:
        return []
    hold, status = _hold(plan)
    return [
        Entry(
            kind="call",
            title=f"Call the crew for {say.day(day)}: {window.step}{hold}",
            lines=(*_to_say(plan, window, words), *evening_before(plan, words)),
            at=max(eve, plan.now),
            alarms=(0,) if eve > plan.now else (),
            status=status,
        )
    ]


def _to_say(plan: Plan, window: Window, words: Words) -> list[str]:
    """Say what the crew is told, and how sure that is."""
    again, lines = plan.decision.look_again, []
    if "call-crew" in plan.decision.codes:
        lines.append(f"Worth calling by what was known {words.moment(plan.now)}.")
    if plan.decision.answer != "go" and again is not None:
        lines.append(f"HOLD: look again {words.moment(again)} before you rely on it.")
    starts = words.span(window.earliest_start, window.latest_start)
    return [
        *lines,
        f"{say.people(plan.job.crew.people)} for the {window.step}, "
        f"{words.day(window.start)}: start {starts}, {_takes(window)}.",
        holds(window.chance, plan.weather),
    ]


def _work(plan: Plan, window: Window, words: Words) -> list[Entry]:
    """Give the range of starts, the last of them, and when to be down."""
    hold, status = _hold(plan)
    first = answered(plan, words)
    day = words.date(window.start)
    last = words.clock(window.latest_start)
    down = words.moment(window.down_by, on=day)
    later = window.last_down_by or window.down_by
    latest = words.moment(later, on=day)
    return [
        Entry(
            kind="start",
            title=f"Start: {window.step}{hold}",
            lines=(*first, *at_first_light(plan, words), *_phases(plan, window, words)),
            at=window.earliest_start,
            until=window.latest_start,
            alarms=(_minutes("alarm_early"),),
            status=status,
        ),
        Entry(
            kind="last-start",
            title=f"Last start: {window.step}{hold}",
            lines=(
                f"Not begun by {last}: do not begin.  Make a new plan.",
                f"Begun now, be down by {latest}.",
                first[0],
            ),
            at=window.latest_start,
            alarms=(_minutes("alarm_early"),),
            status=status,
        ),
        Entry(
            kind="down-by",
            title=f"Be down: {window.step}{hold}",
            lines=(
                f"Begun at {words.moment(window.start)}: down by {down}.  Begun at {last}: "
                f"down by {latest}.",
                "By then what is up stands alone and nobody is on the frame.",
                "If a crew is up from an older plan, keep to the time set before.",
                "Behind time: make it safe rather than go on.  One caller says down.",
                *_down(plan, words),
            ),
            at=window.down_by,
            alarms=(_minutes("alarm_early"), _minutes("alarm_late")),
            status=status,
        ),
    ]


def _takes(window: Window) -> str:
    return say.duration(window.minutes)


def _down(plan: Plan, words: Words) -> tuple[str, ...]:
    """Say how long there is light, and what stands when the crew is gone."""
    light = (f"Light: {line}" for line in work_light(plan, words))
    return *light, *in_hand(plan), *tonight(plan, words)


def _phases(plan: Plan, window: Window, words: Words) -> list[str]:
    """Write the phases with their limits, the end, and how far to pull."""
    day = words.date(window.start)
    ends, down = (words.moment(x, on=day) for x in (window.end, window.down_by))
    pull = at_the_locks(window, words)
    return [
        *(_phase(row, words) for row in phase_rows(plan, window, words)),
        f"{ends} done; be down by {down}.",
        *([pull] if pull else []),
    ]


def _phase(row: PhaseRow, words: Words) -> str:
    """Write one phase on a line, with the limit at the sheet and in the hand."""
    unit = "mph" if words.units == "us" else "m/s"
    when = f"{row.new_day} {row.clock}".strip()
    said = f"{when} {row.name}, {row.minutes} min, {say.people(row.hands)}"
    if row.limit == "-":
        return f"{said}: no gust limit."
    expected = f"{row.gust} ({row.low_high})" if row.low_high else row.gust
    return (
        f"{said}: in the hand gusts to {row.hand_limit} {unit}, steady to {row.hand_mean}; "
        f"at the sheet {row.limit}, {expected} expected."
    )


def _first_night(plan: Plan, window: Window, words: Words) -> list[Entry]:
    """Give the round on the morning after the tension was set."""
    locks = moment_of_locks(window)
    if locks is None:
        return []
    hold, status = _hold(plan)
    lines = [
        "Go round the locks in the cool: wire or insert lifted, film slipped or torn, "
        "doors and skirts loose.  Lock again what has moved.",
    ]
    if window.first_night is not None:
        lines.append(f"Tension of the night about {band(window.first_night, words.units)}.")
    if any(x.step.name == "trim" for x in plan.steps):
        lines.append("Trim only after this: film moves in its first cold night.")
    lines.append("Go round again after the first hot noon and the first strong gusts.")
    return [
        Entry(
            kind="first-night",
            title=f"Check after the first night: {window.step}{hold}",
            lines=tuple(lines),
            at=_morning_after(plan, locks, words),
            status=status,
        )
    ]


def _morning_after(plan: Plan, locks: pd.Timestamp, words: Words) -> pd.Timestamp:
    """Give sunrise of the next day; that of the day itself, or its hour, a day later."""
    day, whole = words.date(locks), dt.timedelta(days=1)
    suns = {x.day: x.sunrise for x in plan.light}
    after = suns.get(day + whole)
    if after is not None:
        return after.ceil("15min")
    before = suns.get(day)
    return (locks if before is None else before) + whole


def _minutes(key: str) -> int:
    """Give how long before an entry its alarm rings [min]."""
    return round(value("planning", key))
