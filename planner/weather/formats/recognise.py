"""Tell the format of a weather file by what is in it, never by its name.

Keys of a map under ``recognise``. ``keys`` are for a JSON answer, the others for a table;
of these all that are there must hold:

===========  ======================================================================
columns      header words that must all be there
some         header words of which one must be there, or else all of ``words``
words        words that must stand at the head of the file
cells        { COLUMN = "regex" }: so must the first row's cell be
line         "regex": so must the first line be that is not blank
keys         dotted keys of a JSON answer; of a list the first item is looked at
===========  ======================================================================
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Final

from planner.errors import UnknownFormat, nearest
from planner.weather.formats.maps import Format, formats, split_line

#: Between fields, where a table was saved again by a program of another country.
_SAVED_AGAIN: Final = (";", "\t", ",")


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """A format that fits, where its header stands (from 0; -1: none) and what splits it."""

    format: Format
    header: int = -1
    separator: str = ""


def find_table(head: list[str], *, name: str | None = None, file: str | None = None) -> Match:
    """Tell the format of a text from its first lines.

    Parameters
    ----------
    head : list of str
        The first lines of the file.
    name : str, optional
        The format the user asked for.
    file : str, optional
        For the error message.

    Returns
    -------
    Match
        The format and its header.

    Raises
    ------
    UnknownFormat
        If none fits, or more than one, or the one asked for does not.
    """
    text = "\n".join(head)
    tried = [each for each in _tried(name) if "keys" not in each.recognise or _is_table(each)]
    found = [match for each in tried if (match := _match(each, head, text)) is not None]
    first = next((line.strip() for line in head if line.strip()), "")[:60]
    if not found and any(line.strip() in {"[house]", "[place]"} for line in head):
        raise UnknownFormat(
            "This is a job file, not weather.",
            fix="Name the job first, then the weather.",
            file=file,
        )
    return _one(found, name=name, file=file, told=f'it starts "{first}"')


def find_answer(tree: Any, *, name: str | None = None, file: str | None = None) -> Format:
    """Tell the format of a JSON answer from its keys.

    Parameters
    ----------
    tree : object
        As ``json.loads`` gives it.
    name : str, optional
        The format the user asked for.
    file : str, optional
        For the error message.

    Returns
    -------
    Format
        The format.

    Raises
    ------
    UnknownFormat
        If none fits, or more than one, or the one asked for does not; if the answer is
        the error of a service, its words are given.
    """
    found = [
        each
        for each in _tried(name)
        if each.recognise.get("keys") and all(has(tree, key) for key in each.recognise["keys"])
    ]
    if not found:
        _refuse_error(tree, file)
    keys = list(tree)[:6] if isinstance(tree, dict) else []
    what = f"its keys are {', '.join(keys)}" if keys else "it is a list or a single value"
    matches = [Match(format=each) for each in found]
    return _one(matches, name=name, file=file, told=f"it is JSON, and {what}").format


def has(tree: Any, key: str) -> bool:
    """Say whether a JSON tree has a dotted key; of a list the first item is looked at."""
    for part in key.split("."):
        if isinstance(tree, list):
            tree = tree[0] if tree else None
        if not isinstance(tree, dict) or part not in tree:
            return False
        tree = tree[part]
    return True


def _tried(name: str | None) -> list[Format]:
    known = formats()
    if name is None:
        return list(known.values())
    if name not in known:
        near = nearest(name, known)
        raise UnknownFormat(
            f'There is no format "{name}".',
            fix=f"Use {near[0]}." if near else f"Known: {_listed()}.",
            key="format",
        )
    return [known[name]]


def _listed() -> str:
    return ", ".join(formats())


def _is_table(each: Format) -> bool:
    return bool(each.recognise.keys() - {"keys"})


def _match(each: Format, head: list[str], text: str) -> Match | None:
    if "line" in each.recognise:
        return _headless(each, head)
    if not all(name in text for name in each.recognise.get("columns", [])):
        return None
    separators = [each.separator]
    separators += [mark for mark in _SAVED_AGAIN if separators[0] not in (mark, " ")]
    for separator in separators:
        if separator not in text:
            continue
        for at, line in enumerate(head):
            if fits_header(each, line, text, separator) and _cells_fit(
                each, head, at, separator
            ):
                return Match(format=each, header=at, separator=separator)
    return None


def _headless(each: Format, head: list[str]) -> Match | None:
    at = next((at for at, line in enumerate(head) if line.strip()), None)
    if at is None or not re.match(each.recognise["line"], head[at]):
        return None
    return Match(format=each, header=at - 1, separator=each.separator)


def fits_header(each: Format, line: str, text: str, separator: str) -> bool:
    """Say whether a line is a format's header, under the file's first lines."""
    needed = each.recognise.get("columns", [])
    if not all(name in line for name in needed):
        return False
    names = {field.name for field in each.fields(line, separator)}
    if not names.issuperset(needed):
        return False
    words, some = each.recognise.get("words", []), each.recognise.get("some", [])
    if not some and not words:
        return bool(needed)
    told = bool(words) and all(word in text for word in words)
    return told or any(name in names for name in some)


def _cells_fit(each: Format, head: list[str], at: int, separator: str) -> bool:
    wanted = each.recognise.get("cells")
    if not wanted:
        return True
    row = next((line for line in head[at + 1 :] if line.strip()), "")
    cells = split_line(row, separator)
    named = {field.name: field.at for field in each.fields(head[at], separator)}
    return all(
        name in named
        and named[name] < len(cells)
        and re.match(pattern, cells[named[name]]) is not None
        for name, pattern in wanted.items()
    )


def _one(found: list[Match], *, name: str | None, file: str | None, told: str) -> Match:
    if len(found) == 1:
        return found[0]
    if found:
        names = " and ".join(match.format.name for match in found)
        raise UnknownFormat(
            f"This file fits more than one format: {names}.",
            fix=f"Say which with --format {found[0].format.name}.",
            file=file,
        )
    if name is not None:
        needs = formats()[name].recognise
        listed = ", ".join(
            needs.get("columns") or needs.get("keys") or ["rows of another kind"]
        )
        raise UnknownFormat(
            f"This file is not {name}, which needs {listed}; {told}.",
            fix=f"Leave --format out, or give another. Known: {_listed()}.",
            file=file,
        )
    raise UnknownFormat(
        f"No known weather format fits this file; {told}.",
        fix=f"Known: {_listed()}. Or save hourly data as CSV with a header line "
        "time,temp_air,temp_dew,wind_speed,wind_gust,precipitation: degC, m/s, mm, times as "
        "2026-05-04T06:00-05:00.",
        file=file,
    )


def _refuse_error(tree: Any, file: str | None) -> None:
    """Say a service's own words where its answer is an error."""
    if not isinstance(tree, dict):
        return
    words = next((tree[key] for key in ("reason", "detail", "message") if key in tree), None)
    if isinstance(words, str) and ("error" in tree or "status" in tree or "code" in tree):
        raise UnknownFormat(
            f'The service answered with an error: "{words[:200]}"',
            fix="Mend what it asks for and get the data again.",
            file=file,
        )
