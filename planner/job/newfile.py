"""A new job file: the answers filled in, everything else there as a comment.

The defaults written into the comments come from the same reference rows that the reader
uses, so that taking a comment sign away changes nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from planner.errors import UsageError, nearest
from planner.job.jobfile import parse_job
from planner.job.values import speaks_us
from planner.reference.tables import value
from planner.units import convert, show

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

REQUIRED: Final = (
    "name",
    "place.latitude",
    "place.longitude",
    "house.width",
    "house.length",
    "crew.people",
)

# Table, then key and what the reader of the file must know about it.
_TEXT: Final[dict[str, dict[str, str]]] = {
    "": {
        "name": "",
        "finish_by": "the last day; without one there is no deadline",
        "starts_every": "how far apart the possible starts are",
        "contact": "for weather services that ask who is calling",
    },
    "place": {
        "latitude": "degrees, north positive",
        "longitude": "degrees, west negative",
        "elevation": "height above the sea",
        "time_zone": "found from the coordinates if left out",
        "ground": "open or wooded: how gusty a given wind is",
        "overhead_line": "true if a power line is anywhere near",
    },
    "house": {
        "profile": "round or gothic",
        "width": "foot to foot",
        "length": "along the ridge",
        "leg": "straight part of the bow below the curve",
        "ridge": "height of the ridge; a gothic house needs it",
        "hip": "height of the channel along the sides",
        "bow_spacing": "",
        "frame": "steel, aluminium, wood or pvc",
        "braced": "against falling over along the ridge",
    },
    "film": {
        "thickness": "",
        "layers": "2 = blown apart by a fan",
        "kind": "clear, diffusing or infrared",
        "sides": "one-piece = the roof sheet hangs down as the roll-up sides",
        "stress_free": "film neither slack nor tight at this temperature",
    },
    "crew": {
        "people": "",
        "hold": "what one person holds against a gust",
        "pace": "1.0 has done it often, 1.6 never",
        "start": 'or a time, "6:30 am"',
        "stop": 'or a time, "8:00 pm"',
        "days_off": 'dates and weekdays: [2026-05-03, "Sunday"]',
        "used_to_heat": "",
    },
    "stakes": {
        "sheet_lost": "a sheet the wind takes: film, and the work to do it again",
        "deadline_missed": "not done by finish_by; 0 if a later day is as good",
        "day_waited": "a day put off the evening before, the crew not called",
        "sent_home": "a day put off with the crew in the yard",
        "lost_when": 'or "a limit is passed": any one passed costs the sheet',
        "money": "its sign; only how the costs compare matters",
    },
}

_CLOSING: Final = """
# Limits replace the built-in ones; "off" drops one. A nearer table wins.
# [limits]
# chill = {chill:<23} # lowest wind chill to work in
# [limits."roof sheet"."pull over"]
# chill = {chill:<23} # for this phase only

# Steps go by name; a part that is finished is marked so.
# [steps."end wall north"]
# done = true
"""


def new_job_text(answers: Mapping[str, object]) -> str:
    """Write a new job file, short enough to read at one sitting.

    Parameters
    ----------
    answers : mapping of str to object
        Dotted keys of the job file ("house.width") to their values, quantities as typed
        ("30 ft"). Those in ``REQUIRED`` must be there; any other known key may be.

    Returns
    -------
    str
        TOML that ``parse_job`` reads; defaults stand in it as comments, in US units if
        the width is, else in SI.

    Raises
    ------
    UsageError
        If a required answer is missing or a key is not one that is asked for.
    JobError
        If an answer cannot be used.

    Examples
    --------
    >>> text = new_job_text({
    ...     "name": "north tunnel", "place.latitude": 44.6, "place.longitude": -93.1,
    ...     "house.width": "30 ft", "house.length": "96 ft", "crew.people": 4,
    ... })
    >>> print(text.splitlines()[16])
    # profile = "round"               # round or gothic
    """
    _check(answers)
    us = speaks_us(answers["house.width"])
    defaults = _defaults(answers, us=us)
    lines = [
        '# A job for the planner. A line that begins with "#" is a comment; those with a key',
        "# in them show what the planner takes if nothing is said. Quantities need a unit.",
    ]
    for table, keys in _TEXT.items():
        if table:
            lines += ["", f"[{table}]"]
        lines += _lines(table, keys, answers=answers, defaults=defaults)
    text = "\n".join(lines) + "\n" + _closing("us" if us else "si")
    parse_job(text)
    return text


def _check(answers: Mapping[str, object]) -> None:
    """Refuse answers that lack a required key or have an unknown one."""
    known = [f"{table}.{key}".lstrip(".") for table, keys in _TEXT.items() for key in keys]
    for key in answers:
        if key not in known:
            near = ", ".join(nearest(key, known)) or ", ".join(known)
            raise UsageError(f'"{key}" is not asked for.', fix=f"Near it: {near}.", key=key)
    for key in REQUIRED:
        if answers.get(key) is None:
            raise UsageError(f"{key} is missing.", fix="A job cannot do without it.", key=key)


def _defaults(answers: Mapping[str, object], *, us: bool) -> dict[str, object]:
    """Give what the reader takes where nothing is said, as typed."""
    system = "us" if us else "si"
    job = parse_job(_bare(answers))
    mil = "mil" if us else "um"
    return {
        "starts_every": f"{job.starts_every} min",
        "place.time_zone": job.place.time_zone,
        "place.ground": job.place.ground,
        "place.overhead_line": job.place.overhead_line,
        "house.profile": job.house.profile,
        "house.leg": show(job.house.leg, "length", system),
        "house.ridge": show(job.house.ridge, "length", system, decimals=2),
        "house.hip": show(job.house.hip, "length", system, decimals=2),
        "house.bow_spacing": show(job.house.bow_spacing, "length", system, decimals=2),
        "house.frame": job.house.frame,
        "house.braced": job.house.braced,
        "film.thickness": f"{convert(job.film.thickness, 'length', mil):.0f} {mil}",
        "film.layers": job.film.layers,
        "film.kind": job.film.kind,
        "film.sides": job.film.sides,
        "film.stress_free": show(job.film.stress_free, "temperature", system),
        "crew.hold": show(job.crew.hold, "force", system),
        "crew.pace": job.crew.pace,
        "crew.start": "first light",
        "crew.stop": "last light",
        "crew.days_off": [],
        "crew.used_to_heat": job.crew.used_to_heat,
        "stakes.sheet_lost": round(job.stakes.sheet_lost),
        "stakes.deadline_missed": round(job.stakes.deadline_missed),
        "stakes.day_waited": round(job.stakes.day_waited),
        "stakes.sent_home": round(job.stakes.sent_home),
        "stakes.lost_when": job.stakes.lost_when,
        "stakes.money": job.stakes.money,
    }


def _bare(answers: Mapping[str, object]) -> str:
    """Write the answers alone, table by table."""
    lines: list[str] = []
    for table, keys in _TEXT.items():
        said = [key for key in keys if answers.get(f"{table}.{key}".lstrip(".")) is not None]
        if table and said:
            lines.append(f"[{table}]")
        lines += [f"{key} = {_toml(answers[f'{table}.{key}'.lstrip('.')])}" for key in said]
    return "\n".join(lines) + "\n"


def _lines(
    table: str,
    keys: Mapping[str, str],
    *,
    answers: Mapping[str, object],
    defaults: Mapping[str, object],
) -> Iterator[str]:
    """Write the keys of one table: answered ones plain, the others as comments."""
    examples = {
        "finish_by": "2026-05-09",
        "contact": '"grower@example.org"',
        "place.elevation": '"300 m"',
    }
    for key, note in keys.items():
        path = f"{table}.{key}".lstrip(".")
        if answers.get(path) is not None:
            line = f"{key} = {_toml(answers[path])}"
        elif path in examples:
            line = f"# {key} = {examples[path]}"
        else:
            line = f"# {key} = {_toml(defaults[path])}"
        yield f"{line:<33} # {note}" if note else line


def _toml(answer: Any) -> str:
    """Write one value as TOML."""
    import tomlkit

    try:
        return str(tomlkit.item(answer).as_string())
    except (ValueError, TypeError) as err:
        raise UsageError(
            f"{answer!r} cannot stand in a job file.", fix="Give text, a number or a date."
        ) from err


def _closing(system: str) -> str:
    """Write the limits and steps that a job file may hold, as comments."""
    rows = {
        "chill": ("work_rules", "chill_lowest", "temperature", 0),
    }
    shown = {
        name: f'"{show(value(table, key), dimension, system, decimals=digits)}"'
        for name, (table, key, dimension, digits) in rows.items()
    }
    return _CLOSING.format(**shown)
