"""What is wrong in a job file, said with its file, line, key and the way out.

The TOML reader keeps no line numbers, so the line of a key is found again in the
text. pydantic's findings are put into the planner's own words here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from planner.errors import JobError, nearest

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from typing import Any

Path = tuple[str, ...]

_PART: Final = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\]|\\.)*"|'[^']*')"""
_KEYS: Final = rf"{_PART}(?:[ \t]*\.[ \t]*{_PART})*"
_HEADER: Final = re.compile(rf"^[ \t]*\[\[?[ \t]*({_KEYS})[ \t]*\]")
_ASSIGNED: Final = re.compile(rf"^[ \t]*({_KEYS})[ \t]*=")
_BARE: Final = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class JobText:
    """The text of a job file and the name of the file, to point into it."""

    text: str
    file: str = ""

    def line(self, path: Path) -> int | None:
        """Find the line of a key, or of the nearest table around it, if there is one."""
        found = _lines(self.text)
        for size in range(len(path), 0, -1):
            if path[:size] in found:
                return found[path[:size]]
        return None

    def error(self, path: Path, message: str, fix: str = "") -> JobError:
        """Make the error for one key."""
        return JobError(
            message,
            fix=fix,
            file=self.file or None,
            line=self.line(path),
            key=key_text(path) or None,
        )


def key_text(path: Iterable[str]) -> str:
    """Write a key the way TOML does: bare where it can be, else in quotes.

    Examples
    --------
    >>> key_text(("steps", "roof sheet", "skip"))
    'steps."roof sheet".skip'
    """
    return ".".join(part if _BARE.fullmatch(part) else f'"{part}"' for part in path)


@lru_cache(maxsize=2)
def _lines(text: str) -> dict[Path, int]:
    """Find the line of every key and table that begins a line, by its path."""
    found: dict[Path, int] = {}
    table: Path = ()
    for number, line in enumerate(text.splitlines(), start=1):
        header = _HEADER.match(line)
        if header:
            table = _split(header.group(1))
            path = table
        else:
            assigned = _ASSIGNED.match(line)
            if not assigned:
                continue
            path = table + _split(assigned.group(1))
        for size in range(1, len(path) + 1):
            found.setdefault(path[:size], number)
    return found


def _split(keys: str) -> Path:
    """Take the parts of a dotted key out of their quotes."""
    return tuple(part[1:-1] if part[0] in "\"'" else part for part in re.findall(_PART, keys))


def toml_error(text: str, file: str, problem: ValueError) -> JobError:
    """Say what keeps a text from being TOML.

    Parameters
    ----------
    text : str
        The whole file.
    file : str
        Its name.
    problem : ValueError
        What the TOML reader raised.

    Returns
    -------
    JobError
        With the line, and the key that stands on it.
    """
    said = re.sub(r" \(at .*\)$", "", str(problem))
    place = re.search(r"at line (\d+)", str(problem))
    rows = text.splitlines()
    line = int(place.group(1)) if place else max(1, len(rows))
    row = rows[line - 1] if 0 < line <= len(rows) else ""
    key = _ASSIGNED.match(row) or _HEADER.match(row)
    if "overwrite" in said or "twice" in said:
        fix = "A key or a table may stand in the file only once: take one of the two out."
    elif "date" in said:
        fix = "Write a day that exists, as year-month-day without quotes: 2026-05-09."
    elif _ASSIGNED.match(row):
        fix = 'Text and quantities go in quotes, as in width = "30 ft"; true and false do not.'
    else:
        fix = 'Each line is a [table], a key = value, or a comment behind "#".'
    return JobError(
        f"this is not valid TOML: {said[:1].lower()}{said[1:].rstrip('.')}.",
        fix=fix,
        file=file or None,
        line=line,
        key=key.group(1) if key else None,
    )


def first_error(
    findings: Iterable[Mapping[str, Any]],
    where: JobText,
    *,
    known: Mapping[Path, Iterable[str]],
) -> JobError:
    """Choose one finding of the checker and say it in words.

    An unknown key comes first, since a misspelt key often leaves a needed one missing;
    then whatever stands highest in the file.

    Parameters
    ----------
    findings : iterable of mapping
        ``errors()`` of a pydantic ``ValidationError``.
    where : JobText
        The file.
    known : mapping of tuple to iterable of str
        The keys that each table may hold; "*" stands for any name.

    Returns
    -------
    JobError
        The error to raise.
    """

    def rank(finding: Mapping[str, Any]) -> tuple[bool, int]:
        line = where.line(_path(finding))
        return finding["type"] != "extra_forbidden", 10**9 if line is None else line

    finding = min(findings, key=rank)
    path = _path(finding)
    if finding["type"] == "extra_forbidden":
        return unknown_key(path, where, known=known)
    if finding["type"] == "missing":
        return where.error(path, f"{key_text(path)} is missing.", _needed(path))
    problem = finding.get("ctx", {}).get("error")
    if isinstance(problem, ValueError):
        message = str(getattr(problem, "message", problem))
        return where.error(path, message, str(getattr(problem, "fix", "")))
    if finding["type"] in {"model_type", "dict_type", "model_attributes_type"}:
        return where.error(
            path,
            f"{key_text(path)} must be a table, not a value.",
            f"Write [{key_text(path)}] on a line of its own, and its keys below it.",
        )
    return where.error(path, f"{finding['msg']}.", "Compare it with a new job file.")


def _path(finding: Mapping[str, Any]) -> Path:
    return tuple(str(part) for part in finding["loc"] if part != "[key]")


def unknown_key(path: Path, where: JobText, *, known: Mapping[Path, Iterable[str]]) -> JobError:
    """Say that a key is unknown, and name the nearest one or the table it belongs in.

    Parameters
    ----------
    path : tuple of str
        The key with its tables.
    where : JobText
        The file.
    known : mapping of tuple to iterable of str
        The keys that each table may hold; "*" stands for any name.

    Returns
    -------
    JobError
        The error to raise.
    """
    table, key = path[:-1], path[-1]
    here = tuple(known.get(_pattern(table), ()))
    near = nearest(key.lower(), here)
    homes = [key_text(home) for home, keys in known.items() if home and key in keys]
    if near:
        fix = f"Did you mean {' or '.join(near)}?"
    elif key in known.get((), ()):
        fix = "It belongs at the top of the file, above the first [table]."
        if key in {home[0] for home in known if home}:
            fix = f"Write [{key}] on a line of its own, and its keys below it."
    elif homes and "*" not in homes[0]:
        fix = f"It belongs in [{homes[0]}]."
    else:
        fix = f"Known here: {', '.join(sorted(here))}."
    inside = f"[{key_text(table)}]" if table else "a job file"
    return where.error(path, f'"{key}" is not a key of {inside}.', fix)


def _pattern(table: Path) -> Path:
    """Put "*" for the names that a user chooses."""
    starred = {"steps": (1, 3), "limits": (1, 2)}.get(table[0] if table else "", ())
    return tuple("*" if at in starred else part for at, part in enumerate(table))


_NEEDED: Final = {
    "name": 'Write a name for the job, as in name = "north tunnel".',
    "place": "Add a table [place] with latitude and longitude.",
    "place.latitude": "Write latitude in degrees, north positive, as in latitude = 44.5.",
    "place.longitude": "Write longitude in degrees, west negative, as in longitude = -93.2.",
    "house": "Add a table [house] with width and length.",
    "house.width": 'Write the width from foot to foot, as in width = "30 ft".',
    "house.length": 'Write the length along the ridge, as in length = "96 ft".',
    "crew": "Add a table [crew] with people.",
    "crew.people": "Write how many people come, as in people = 4.",
}


def _needed(path: Path) -> str:
    return _NEEDED.get(key_text(path), f"Add {path[-1]} = ... to [{key_text(path[:-1])}].")
