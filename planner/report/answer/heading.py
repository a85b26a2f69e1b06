"""What every face begins with: the job, the weather file, and how long it may be used."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from planner.report import words as say
from planner.weather.hourly.issued import age_of

#: Said on every face that shows a start which is not a go.
NOT_YET: Final = "Times count only once a newer plan says GO."

#: Notes of a plan that stand beside how long it may be used, on every face.
HEADED: Final = frozenset({"old-copy", "forecast-old", "place-far", "place_unknown"})

if TYPE_CHECKING:
    from planner.plan.records import Plan
    from planner.report.words import Words


def about_job(plan: Plan, words: Words) -> str:
    """Say which house it is about, its name first, for how many people, and until when.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    str
        ``"north tunnel: 30 x 96 ft, 6 mil, one layer, 5 people, done by Sat May 9"``.
    """
    return f"{plan.job.name}: {house_and_crew(plan, words)}"


def house_and_crew(plan: Plan, words: Words) -> str:
    """Say how large the house is, for how many people, and until when.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    str
        ``"30 x 96 ft, 6 mil, one layer, 5 people, done by Sat May 9"``.
    """
    job = plan.job
    parts = [words.house(job), say.people(job.crew.people)]
    if job.finish_by:
        parts.append(f"done by {say.day(job.finish_by)}")
    return ", ".join(parts)


def about_weather(plan: Plan, words: Words) -> str:
    """Say what weather it rests on, from when, and how far that reaches.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    str
        One sentence, and a second one where there are many possible weathers.
    """
    weather = plan.weather
    now = words.moment(plan.now)
    zone = words.zone(plan.now)
    if weather.kind == "observed":
        about = (
            f"Station record from {words.day(weather.first)}, "
            f"{words.date(weather.first).year}, taken as known at {now} {zone}"
        )
    elif weather.issued is None:
        about = f"Forecast without a time of issue, now {now} {zone}"
    else:
        issued = words.date(weather.issued)
        made = "fetched" if weather.issued_from == "fetched" else "of"
        about = (
            f"Forecast {made} {words.moment(weather.issued)} {words.zone(weather.issued)}, "
            f"{issued.year}, now {words.moment(plan.now, on=issued)}"
        )
    many = f"  {weather.members} possible weathers." if weather.members > 1 else ""
    return f"{about}, up to {words.until(weather.last)}.{many}"


def use_until(plan: Plan, words: Words) -> str:
    """Say after when the page may not be used any more.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    str
        One sentence, and one more where the forecast is old, an old copy, or of a place far
        away or not said.
    """
    said = [x.text for x in plan.notes if x.code in HEADED and x.code != "old-copy"]
    return "  ".join([f"{_limit(plan, words)}{_old_copy(plan, words)}", *said])


def _limit(plan: Plan, words: Words) -> str:
    if plan.use_until is None:
        if plan.weather.kind == "observed":
            return "A record of past weather: not for going by."
        return "An example with invented weather: not for going by."
    if plan.use_until <= plan.now:
        return "Do not use: the forecast is too old.  Get a newer one."
    year = words.date(plan.use_until).year
    until = f"{words.moment(plan.use_until)} {words.zone(plan.use_until)}, {year}"
    return f"Do not use after {until}: get a newer forecast then."


def _old_copy(plan: Plan, words: Words) -> str:
    """Say that the weather is an old copy, how old and why; nothing if it is none."""
    weather = plan.weather
    if not weather.stale:
        return ""
    when = ""
    if weather.fetched is not None:
        old = age_of(plan.now - weather.fetched)
        when = f", fetched {words.moment(weather.fetched)}, {old} before"
    return f"  An old copy of the weather{when}: {weather.stale}."
