"""From the text of a job file to a ``Job``: checked and in the planner's units.

What the file leaves out is filled in by ``defaults``. Whether the house can
be built is asked of ``film.sheet`` in a higher room, and names of steps and phases are
checked when the steps are built.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from pydantic import ValidationError

from planner.errors import JobError, nearest
from planner.job import defaults
from planner.job.complaints import JobText, first_error, toml_error, unknown_key
from planner.job.records import (
    Job,
    PhasePatch,
    Place,
    StepPatch,
    TypedLimit,
)
from planner.job.schema import KEYS, JobTable, LimitsTable
from planner.job.values import speaks_us
from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from planner.job.schema import PlaceTable

Units = Literal["us", "si"]


def read_job(path: str | Path) -> Job:
    """Read a job file: the house, the place, the film, the crew and what they decided.

    Everything that the planner does starts from it.

    Parameters
    ----------
    path : str or Path
        The TOML file.

    Returns
    -------
    Job
        The job, without its steps; ``steps.built_in_steps`` and ``steps.apply_patches``
        make those once the sizes of the sheets are known.

    Raises
    ------
    JobError
        If the file cannot be read, is not TOML, lacks something, has an unknown key or a
        value that cannot be used. It names the file, the line, the key and the way out.
    """
    file = str(path)
    try:
        text = Path(path).read_bytes().decode("utf-8-sig")
    except FileNotFoundError as err:
        raise JobError(
            "there is no such job file.",
            file=file,
            fix='Check the name, or start one with "planner new".',
        ) from err
    except UnicodeDecodeError as err:
        raise JobError(
            "this is not a text file.",
            file=file,
            fix="A job file is TOML text in UTF-8. Is it the weather file?",
        ) from err
    except (OSError, ValueError) as err:
        raise JobError(
            f"the job file cannot be read ({err}).",
            file=file,
            fix="Check the name and who may read it.",
        ) from err
    return parse_job(text, file=file)


def parse_job(text: str, *, file: str = "") -> Job:
    """Read a job from its text.

    Parameters
    ----------
    text : str
        TOML.
    file : str
        Name of the file, for messages.

    Returns
    -------
    Job
        As ``read_job``.

    Raises
    ------
    JobError
        As ``read_job``.

    Examples
    --------
    >>> job = parse_job('''
    ... name = "north tunnel"
    ... [place]
    ... latitude = 44.6
    ... longitude = -93.1
    ... [house]
    ... width = "30 ft"
    ... length = "96 ft"
    ... [crew]
    ... people = 4
    ... ''')
    >>> job.house.width, job.house.ridge, job.place.time_zone
    (9.144, 4.572, 'America/Chicago')
    """
    if not text.strip():
        raise JobError(
            "the job file is empty.", file=file or None, line=1, fix='"planner new" writes one.'
        )
    where = JobText(text=text, file=file)
    try:
        raw = tomllib.loads(text.replace("\r\n", "\n"))
    except RecursionError as err:
        raise toml_error(text, file, ValueError("tables nested too deep")) from err
    except ValueError as err:
        raise toml_error(text, file, err) from err
    try:
        table = JobTable.model_validate(raw)
    except ValidationError as err:
        raise first_error(err.errors(), where, known=KEYS) from err
    return _job(table, where, units="us" if speaks_us(raw["house"]["width"]) else "si")


def _job(table: JobTable, where: JobText, *, units: Units) -> Job:
    """Put the job together from the checked tables."""
    limits = tuple(_limits(table.limits, (), where=where))
    waits = [one for one in limits if one.quantity == "thunder_wait" and not one.step]
    wait = waits[0].high if waits and waits[0].high is not None else None
    house = defaults.house(table.house, where)
    return Job(
        name=table.name,
        place=_place(table.place, where),
        house=house,
        film=defaults.film(table.film),
        crew=defaults.crew(table.crew, where),
        stakes=defaults.stakes(table.stakes),
        limits=limits,
        step_patches=_patches(table, where),
        finish_by=table.finish_by,
        starts_every=table.starts_every,
        contact=table.contact or "",
        thunder_wait=value("work_rules", "thunder_wait") if wait is None else wait,
        assumed=tuple(defaults.assumed(table, house, units=units)),
        file=where.file,
        units=units,
    )


def _place(table: PlaceTable, where: JobText) -> Place:
    return Place(
        latitude=table.latitude,
        longitude=table.longitude,
        elevation=table.elevation,
        time_zone=_time_zone(table, where),
        ground=table.ground or "open",
        gust_at_sheet=table.gust_at_sheet,
        overhead_line=table.overhead_line,
    )


def _time_zone(table: PlaceTable, where: JobText) -> str:
    """Check the zone that the file names, or find it from the coordinates."""
    path = ("place", "time_zone")
    if table.time_zone is not None:
        if not _zone_known(table.time_zone):
            from zoneinfo import available_timezones

            near = nearest(table.time_zone, sorted(available_timezones()))
            raise where.error(
                path,
                f'"{table.time_zone}" is not a time zone.',
                f"Did you mean {' or '.join(near)}?"
                if near
                else 'Write it as "America/Chicago", or leave it out.',
            )
        return table.time_zone
    try:
        from tzfpy import get_tz

        zone = str(get_tz(table.longitude, table.latitude))
    except (ImportError, RuntimeError, ValueError):
        zone = ""
    if not zone or zone.startswith("Etc/") or not _zone_known(zone):
        raise where.error(
            ("place", "longitude"),
            f"no time zone is known for {table.latitude:g}, {table.longitude:g}; "
            "the place lies at sea.",
            "Check the signs (north and east are positive), or write place.time_zone, "
            'as in time_zone = "America/Chicago".',
        )
    return zone


def _zone_known(name: str) -> bool:
    from zoneinfo import ZoneInfo

    try:
        ZoneInfo(name)
    except (LookupError, ValueError, OSError):
        return False
    return True


def _limits(
    table: Mapping[str, Any], names: tuple[str, ...], *, where: JobText
) -> Iterator[TypedLimit]:
    """Give the limits of one level and of the tables in it: all, a step, a phase of it."""
    path = ("limits", *names)
    flat = {key: one for key, one in table.items() if not isinstance(one, dict)}
    try:
        checked = LimitsTable.model_validate(flat)
    except ValidationError as err:
        findings = [{**one, "loc": path + one["loc"]} for one in err.errors()]
        raise first_error(findings, where, known=KEYS) from err
    step, phase = (*names, "", "")[:2]
    if names and isinstance(checked.thunder_wait, float):
        raise where.error(
            (*path, "thunder_wait"),
            "the wait after thunder is one for the whole job.",
            'Write it below [limits]; for a step or a phase it can only be "off".',
        )
    for key in flat:
        line = where.line((*path, key))
        yield _typed(key, getattr(checked, key), step=step, phase=phase, line=line)
    for name, inner in table.items():
        if not isinstance(inner, dict):
            continue
        if name in LimitsTable.model_fields:
            raise where.error(
                (*path, name),
                f"{name} is a limit and holds a value, not a table.",
                f"Write {name} = ... below [limits], or a step's name in quotes.",
            )
        if phase or not name.strip():
            raise unknown_key((*path, name), where, known=KEYS)
        yield from _limits(inner, (*names, name), where=where)


def _typed(key: str, bound: Any, *, step: str, phase: str, line: int | None) -> TypedLimit:
    """Turn one checked entry of a limits table into its record."""
    low = high = None
    word = ""
    if isinstance(bound, str):
        word = bound
    elif isinstance(bound, tuple):
        low, high = bound
    else:  # the side is that of the limit it replaces
        low = high = bound
    return TypedLimit(
        quantity=key, low=low, high=high, word=word, step=step, phase=phase, line=line
    )


def _patches(table: JobTable, where: JobText) -> tuple[StepPatch, ...]:
    """Keep what the file says about steps and phases, in its order."""
    patches = []
    for name, step in table.steps.items():
        path = ("steps", name)
        phases = []
        for inner, phase in step.phases.items():
            here = (*path, "phases", inner)
            if phase.hands is not None and phase.hands > table.crew.people:
                raise where.error(
                    (*here, "hands"),
                    f"{phase.hands} hands are more than the crew of {table.crew.people}.",
                    "Write fewer hands, or more people under [crew].",
                )
            phases.append(
                PhasePatch(
                    name=inner,
                    minutes=phase.time,
                    line=where.line(here),
                    **phase.model_dump(exclude={"time"}),
                )
            )
        said = step.model_dump(exclude={"phases"})
        patches.append(
            StepPatch(name=name, phases=tuple(phases), line=where.line(path), **said)
        )
    return tuple(patches)
