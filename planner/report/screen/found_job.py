"""What ``inspect`` says in words about a job file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from planner.report.screen.first import item, items
from planner.report.screen.found import position
from planner.report.words import Words, duration, people, plain
from planner.report.yard.hardware import hardware_to_have, sheets_to_cut
from planner.units import show

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.film.sheet import Hardware, Sheet
    from planner.job.records import Crew, Job, Limit, Phase, Step

    Limits = Mapping[str, Mapping[str, tuple[Limit, ...]]]

_WIND: Final = frozenset({"gust", "mean_wind"})


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
        *item("Place", f"{position(job.place.latitude, job.place.longitude)}, "
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
