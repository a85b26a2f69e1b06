"""The calendar file (RFC 5545): call the crew, start, last start, be down, look again, check.

What an entry says stands in ``entries``; here it is put into the file.
"""

from __future__ import annotations

import datetime as dt
import unicodedata
import uuid
from typing import TYPE_CHECKING, Final

from planner.job.phases import SETS_PULL
from planner.report.answer.heading import use_until
from planner.report.calendar.entries import KINDS, Entry, answered, entries
from planner.report.reader import words_for
from planner.report.words import Words
from planner.report.yard.fine_print import cautions

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd
    from icalendar import Alarm, Event

    from planner.job.records import Job
    from planner.plan.records import Plan

_PRODUCT: Final = "-//planner//hours to put film on a hoop house//EN"
_TAGS: Final = str.maketrans("<>", "()")  # some calendars read tags in a text
_MINUTE: Final = 60.0
_KEEP: Final = {"down-by": ("If the crew is up, keep to the time set before.",)}


def calendar_text(plan: Plan, *, units: str) -> str:
    """Write the plan as entries for a calendar, with alarms before they are due.

    A phone rings where nobody looks at a page: before the last start, and before the
    crew has to be down.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    units : {"us", "si"}
        Units of the descriptions.

    Returns
    -------
    str
        The whole file, lines ending in CR LF.

    Notes
    -----
    Times are UTC; a calendar shows them on its own clock, descriptions name the place's.
    Nothing is read from the computer: the same plan gives the same bytes.

    There is one entry of each kind for a job, named by a hash of the job's name, its
    place and the kind. So what a newer plan says takes the place of what an older one
    said, whatever day or step it is about; ``SEQUENCE`` counts the minutes since 1970
    and ``DTSTAMP`` gives the second. A kind that the newer plan has no time for is
    written as withdrawn (``STATUS:CANCELLED``, at the time of the plan, without alarms),
    since a file cannot take out what it does not name, and an old alarm would still
    ring. A plan of one day alone withdraws nothing. Calendars that do not follow
    ``STATUS`` show its title. The check after the first night is left alone once the
    sheet is on: only the plan that locked it knew when.

    A plan knows nothing of work that is going on: its file belongs in the calendar
    before the crew goes up. There is no organizer, no address and no position in it.
    """
    from icalendar import Calendar

    words = words_for(plan, units)
    calendar = Calendar()
    calendar.add("prodid", _PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    found = entries(plan, words)
    gone = _withdrawn(plan, words, kept=[x.kind for x in found])
    for entry in sorted((*found, *gone), key=lambda x: list(KINDS).index(x.kind)):
        calendar.add_component(_event(entry, plan, words))
    written: bytes = calendar.to_ical()
    return written.decode("utf-8")


def _withdrawn(plan: Plan, words: Words, *, kept: Iterable[str]) -> tuple[Entry, ...]:
    """Give the entries of an older plan that this one has no time for."""
    locked = any(x.done and any(y.name == SETS_PULL for y in x.phases) for x in plan.job.steps)
    left = set(KINDS) if plan.on is not None else {*kept, *(("first-night",) if locked else ())}
    return tuple(
        Entry(
            kind=kind,
            title=f"Withdrawn: {called}",
            lines=(
                f"The plan made {words.moment(plan.now)} has no time for it.",
                *answered(plan, words),
                *_KEEP.get(kind, ()),
            ),
            at=plan.now,
            status="CANCELLED",
        )
        for kind, called in KINDS.items()
        if kind not in left
    )


def uid(job: Job, kind: str) -> str:
    """Give the name under which a calendar knows one kind of entry of one job.

    Parameters
    ----------
    job : Job
        Its name and its place count.
    kind : str
        A key of ``KINDS``.

    Returns
    -------
    str
        The same for every plan of the job.
    """
    place = f"{job.place.latitude:.4f} {job.place.longitude:.4f}"
    return str(uuid.uuid5(uuid.NAMESPACE_OID, "\n".join((_clean(job.name), place, kind))))


def _event(entry: Entry, plan: Plan, words: Words) -> Event:
    """Put one entry into the form of the file."""
    from icalendar import Event

    title = f"{entry.title} - {_clean(plan.job.name)}"
    event = Event()
    event.add("uid", uid(plan.job, entry.kind))
    event.add("dtstamp", _utc(plan.now))
    event.add("sequence", int(plan.now.timestamp() // _MINUTE))
    event.add("status", entry.status)
    event.add("dtstart", _utc(entry.at))
    if entry.until is not None and entry.until > entry.at:
        event.add("dtend", _utc(entry.until))
    event.add("transp", "TRANSPARENT" if entry.until is None else "OPAQUE")
    event.add("summary", _clean(title))
    lines = (*entry.lines, *_below(plan, words))
    event.add("description", "\n".join(_clean(line) for line in lines))
    for minutes in entry.alarms:
        event.add_component(_alarm(title, minutes))
    return event


def _alarm(title: str, minutes: int) -> Alarm:
    """Make an alarm so many minutes before an entry [min]."""
    from icalendar import Alarm

    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", -dt.timedelta(minutes=minutes))
    alarm.add("description", _clean(f"In {minutes} min: {title}" if minutes else title))
    return alarm


def _below(plan: Plan, words: Words) -> tuple[str, ...]:
    """Give what stands below every entry: how long it may be used, a caution, the credit."""
    clear = plan.hardware.keep_clear
    caution = cautions(plan.job, keep_clear=clear, units=words.units)[0]
    credit = plan.weather.credit
    return use_until(plan, words), caution, *((f"Weather: {credit}",) if credit else ())


def _utc(time: pd.Timestamp) -> dt.datetime:
    return time.tz_convert("UTC").floor("s").to_pydatetime()


def _clean(text: str) -> str:
    """Make one line of a text, without what a calendar could take for something else."""
    text = unicodedata.normalize("NFC", text).translate(_TAGS)
    shown = "".join(" " if unicodedata.category(x) == "Cc" else x for x in text)
    return " ".join(shown.split())
