"""What ``inspect`` says in words about a weather file or a job file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.report.screen.first import item, items
from planner.report.words import Words, duration, people, plain
from planner.report.yard.fine_print import COUNTED, blank_hours
from planner.report.yard.hardware import hardware_to_have, sheets_to_cut
from planner.units import show
from planner.weather.table import COLUMN

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from planner.film.sheet import Hardware, Sheet
    from planner.job.records import Crew, Job, Limit, Phase, Step
    from planner.weather.archive import Archive
    from planner.weather.table import Weather, WeatherPlace

    Limits = Mapping[str, Mapping[str, tuple[Limit, ...]]]

_ABOUT: Final = ("Format", "Place", "Hours", "Issued")
_WIND: Final = frozenset({"gust", "mean_wind"})
_FROM: Final = {
    "option": "as given on the command line",
    "column": "as its column says",
    "file": "as the file says",
    "sidecar": "as the file fetched beside it says",
    "first hour": "taken as its first hour",
}


def weather_report(weather: Weather, *, units: str, time_zone: str = "UTC") -> str:
    """Say what was found in a weather file, what was repaired, and what is doubted.

    Parameters
    ----------
    weather : Weather
        As read.
    units : {"us", "si"}
        Which units to write.
    time_zone : str
        In which times are written.

    Returns
    -------
    str
        Lines of at most 80 columns of ASCII.
    """
    facts = weather_facts(weather, Words(units=units, time_zone=time_zone))
    about = [line for label in _ABOUT for line in items(label, facts[label])]
    rest = [items(label, texts) for label, texts in facts.items() if label not in _ABOUT]
    sections = [about, _columns(weather, units), *rest]
    return "\n\n".join("\n".join(lines) for lines in sections if lines)


def weather_facts(weather: Weather, words: Words) -> dict[str, list[str]]:
    """Say what was found in a weather file but for its columns, by label.

    Parameters
    ----------
    weather : Weather
        As read.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    dict of str to list of str
        Format, place, hours, time of issue, gusts, doubts, notes, credit; a list may be
        empty.
    """
    notes = [x for x in weather.notes if x.code not in COUNTED]
    return {
        **_about(weather, words),
        "Gusts": _gusts(weather, words.units),
        "Doubts": [x.text for x in notes if x.doubt],
        "Notes": [x.text for x in notes if not x.doubt],
        "Credit": [weather.credit] if weather.credit else [],
    }


def weather_columns(weather: Weather, *, units: str) -> list[tuple[str, str, int, str]]:
    """Say what is in each column that is there.

    Parameters
    ----------
    weather : Weather
        As read.
    units : {"us", "si"}
        Which units to write.

    Returns
    -------
    list of tuple
        Name, origin, blank hours [h], lowest to highest.
    """
    return [
        (name, origin, blank_hours(weather, name), _range(weather.values[name], name, units))
        for name, origin in weather.origin.items()
        if origin != "missing" and name in weather.values
    ]


def archive_report(archive: Archive, *, units: str, time_zone: str = "UTC") -> str:
    """Say how many forecasts an archive holds, from when to when, and how far they reach.

    Parameters
    ----------
    archive : Archive
        As read.
    units : {"us", "si"}
        Which units to write.
    time_zone : str
        In which times are written.

    Returns
    -------
    str
        Lines of at most 80 columns of ASCII.
    """
    words = Words(units=units, time_zone=time_zone)
    clock = archive.issues.tz_convert(time_zone).strftime("%H:%M")
    at = [
        words.clock(x) for _, x in sorted(dict(zip(clock, archive.issues, strict=True)).items())
    ]
    hours = sorted({int(archive.hours.min()), int(archive.hours.max())})
    there = [c for c in COLUMN if np.isfinite(archive.values.get(c, np.nan)).any()]
    issued = f"{_dated(archive.issues[0], words)} to {_dated(archive.issues[-1], words)}"
    sections = [
        [
            *item("Format", f"{archive.format}, an archive of {len(archive):,} forecasts"),
            *item("Place", _where_it_is(archive.place, words)),
            *item("Issued", f"{issued} {words.time_zone}, at {', '.join(at)}"),
            *item("Hours", f"{' to '.join(map(str, hours))} in each, one row an hour"),
        ],
        [
            *items("Columns", [", ".join(there)]),
            *items("Not there", [", ".join(c for c in COLUMN if c not in there)]),
        ],
        items("Doubts", [x.text for x in archive.notes if x.doubt]),
        items("Notes", [x.text for x in archive.notes if not x.doubt]),
        items("Credit", [archive.credit] if archive.credit else []),
    ]
    return "\n\n".join("\n".join(lines) for lines in sections if lines)


def _where_it_is(place: WeatherPlace, words: Words) -> str:
    where = [place.name] if place.name else []
    if place.latitude is not None and place.longitude is not None:
        where.append(_position(place.latitude, place.longitude))
    if place.elevation is not None:
        where.append(show(place.elevation, "length", words.units, decimals=0) + " up")
    return ", ".join(where) or "the file does not say"


def _about(weather: Weather, words: Words) -> dict[str, list[str]]:
    kind = {"observed": "a station record"}.get(weather.kind, f"a {weather.kind}")
    if weather.kind == "ensemble":
        kind = f"an ensemble of {weather.members} possible weathers"
    span = "no hours"
    if weather.hours:
        span = (
            f"{weather.hours} hours, {_dated(weather.times[0], words)} to "
            f"{_dated(weather.times[-1], words)} {words.time_zone}, one row an hour"
        )
    issued = "not known"
    if weather.issued is not None:
        how = _FROM.get(weather.issued_from, weather.issued_from)
        issued = _dated(weather.issued, words) + (f", {how}" if how else "")
    return {
        "Format": [f"{weather.format}, {kind}"],
        "Place": [_where_it_is(weather.place, words)],
        "Hours": [span],
        "Issued": [issued] if weather.kind != "observed" else [],
    }


def _position(latitude: float, longitude: float) -> str:
    north, east = "NS"[latitude < 0], "EW"[longitude < 0]
    return f"{abs(latitude):.2f} {north} {abs(longitude):.2f} {east}"


def _dated(time: pd.Timestamp, words: Words) -> str:
    """Write a time with its year, for files that may span many."""
    return f"{words.day(time)} {words.date(time).year} {words.clock(time)}"


def _columns(weather: Weather, units: str) -> list[str]:
    lines = [f"{'Columns':<12}{'':<28}{'origin':<11}{'blank':>6}   lowest to highest"]
    there = weather_columns(weather, units=units)
    for name, origin, blank, span in there:
        label = f"{'':<12}{name:<28}{origin:<11}{blank:>6}   "
        lines += item(label, span, width=len(label))
    missing = [x for x in weather.origin if x not in {name for name, *_ in there}]
    return [*lines, *items("Not there", [", ".join(missing)] if missing else [])]


def _range(values: np.ndarray, name: str, units: str) -> str:
    finite = values[np.isfinite(values)]
    if not finite.size:
        return "no data"
    column = COLUMN.get(name)
    low, high = float(finite.min()), float(finite.max())
    if column is None or not column.dimension:
        return f"{low:g} to {high:g} {column.unit if column else ''}".removesuffix(" -")
    if column.name == "pressure":
        return f"{low / 100:.0f} to {high / 100:.0f} hPa"
    return f"{show(low, column.dimension, units, unit=False)} to " + show(
        high, column.dimension, units
    )


def _gusts(weather: Weather, units: str) -> list[str]:
    meaning = {"not said": "the file does not say over what time", "none": "the file has none"}
    parts = [meaning.get(weather.gust_meaning, weather.gust_meaning)]
    if weather.gust_resolution:
        step = show(weather.gust_resolution, "speed", units)
        parts.append(f"rounded to steps of {step}")
    lines = [", ".join(parts) + "."]
    blank = blank_hours(weather, "wind_gust")
    if blank == weather.hours:
        lines = ["The file has none: every gust is estimated from the mean wind, and counted."]
    elif blank:
        share = f"{100 * blank / weather.hours:.0f} of 100"
        lines.append(
            f"{blank} of {weather.hours} gusts are blank ({share}). A blank gust is not a "
            "calm: it is estimated from the mean wind, and counted."
        )
    return lines


def job_report(
    job: Job,
    *,
    sheets: tuple[Sheet, ...],
    hardware: Hardware,
    limits: Limits,
    units: str,
) -> str:
    """Say what a job file means: sizes, sheets, steps with their limits, what is assumed.

    Parameters
    ----------
    job : Job
        As read, with its steps laid out.
    sheets : tuple of Sheet
        To cut for the house.
    hardware : Hardware
        Channel, throw lines, straps and cord.
    limits : mapping of str to mapping of str to tuple of Limit
        By step and phase.
    units : {"us", "si"}
        Which units to write.

    Returns
    -------
    str
        Lines of at most 80 columns of ASCII.
    """
    words = Words(units=units, time_zone=job.place.time_zone)
    steps = [_step(x, limits.get(x.name, {}), words) for x in job.steps]
    sections = [
        _house(job, words),
        [
            *items("Sheets", sheets_to_cut(sheets, units=units)),
            *items("Hardware", hardware_to_have(hardware, units=units)),
        ],
        *steps,
        _other_limits({x.name: limits.get(x.name, {}) for x in job.steps if not x.done}, words),
        items("Assumed", job.assumed),
    ]
    return "\n\n".join("\n".join(lines) for lines in sections if lines)


def _house(job: Job, words: Words) -> list[str]:
    def size(value: float) -> str:
        return show(value, "length", words.units).replace(".0 ", " ")

    house, film, crew = job.house, job.film, job.crew
    braced = "braced" if house.braced else "not braced"
    film_at = show(film.stress_free, "temperature", words.units)
    hold = show(crew.hold, "force", words.units)
    done = f", done by {job.finish_by.isoformat()}" if job.finish_by else ""
    return [
        *item("Job", f"{job.name}: {words.house(job)}{done}"),
        *item("Place", f"{_position(job.place.latitude, job.place.longitude)}, "
              f"{job.place.time_zone}, {job.place.ground} ground{_ratio(job)}"),
        *item("House", f"{house.profile}, ridge {size(house.ridge)}, straight leg "
              f"{size(house.leg)}, side channel at {size(house.hip)}, bows every "
              f"{size(house.bow_spacing)}, {house.frame}, {braced}"),
        *item("Film", f"{film.kind}, sides {film.sides}, neither slack nor tight at {film_at}"),
        *item("Crew", f"{people(crew.people)}, {hold} each for a gust, pace {crew.pace:g}, "
              f"{_hours(crew)}, a start every {job.starts_every} min"),
    ]  # fmt: skip


def _ratio(job: Job) -> str:
    ratio = job.place.gust_at_sheet
    return "" if ratio is None else f", gusts at the sheet {ratio:g} of those at 10 m"


def _hours(crew: Crew) -> str:
    """Write from when to when the crew comes, and on which days it does not."""
    times = [
        at if isinstance(at, str) else f"{at // 60:02d}:{at % 60:02d}"
        for at in (crew.start, crew.stop)
    ]
    off = f", not on {', '.join(map(str, crew.days_off))}" if crew.days_off else ""
    return f"from {times[0]} to {times[1]}{off}"


def _step(step: Step, limits: Mapping[str, tuple[Limit, ...]], words: Words) -> list[str]:
    after = f", after {' and '.join(step.after)}" if step.after else ""
    count = step.nights_after
    nights = f", {count} {'night' if count == 1 else 'nights'} later" if count else ""
    state = "done" if step.done else duration(step.minutes)
    unit = "mph" if words.units == "us" else "m/s"
    width = max((len(plain(x.name)) for x in step.phases), default=0)
    head = item("", f"{step.name[:1].upper()}{step.name[1:]}, {state}{after}{nights}", width=0)
    if step.done:
        return head
    titles = f"   {'':<{width}}{'min':>6}{'hands':>7}{'gust, ' + unit:>11}  limit comes from"
    lines = [*head, titles]
    for phase in step.phases:
        lines += _phase(phase, limits.get(phase.name, ()), words, width)
    return lines


def _phase(phase: Phase, limits: tuple[Limit, ...], words: Words, width: int) -> list[str]:
    gusts = [x for x in limits if x.quantity == "gust"]
    governing = next((x for x in gusts if x.governs), None)
    bound, origin = "-", "no gust limit"
    if governing:
        bound = words.amount(governing.bound, "gust", unit=False)
        others = tuple(x for x in gusts if x is not governing)
        origin = words.origin(governing, others=others)
    if phase.leave_gust is not None:
        origin += f"; may be left up to {words.amount(phase.leave_gust, 'gust')}"
    row = f"   {plain(phase.name):<{width}}{phase.minutes:>6.0f}{phase.hands:>7}{bound:>11}  "
    return item(row, origin, width=len(row))


def _other_limits(limits: Limits, words: Words) -> list[str]:
    """List what is not wind once, with the phases it holds for."""
    every = {(step, phase) for step, of in limits.items() for phase in of}
    held: dict[str, set[tuple[str, str]]] = {}
    for step, of in limits.items():
        for phase, listed in of.items():
            for limit in listed:
                if limit.governs and limit.quantity not in _WIND:
                    yours = " (yours)" if limit.kind == "yours" else ""
                    held.setdefault(words.limit(limit) + yours, set()).add((step, phase))
    return items("Limits", [f"{said}: {_where(at, every)}" for said, at in held.items()])


def _where(at: set[tuple[str, str]], every: set[tuple[str, str]]) -> str:
    if at == every:
        return "every phase"
    if len(at) > len(every) / 2:
        return "every phase but " + _where(every - at, every)
    parts = []
    for step in sorted({step for step, _ in at}):
        mine = sorted(phase for name, phase in at if name == step)
        whole = len(mine) == sum(name == step for name, _ in every)
        parts.append(step if whole else f"{step} ({', '.join(mine)})")
    return ", ".join(parts)
