"""From what was typed into the job form to the text of the job file, and back.

Only the keys that changed are written: comments, limits and steps stay as they are.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from contextlib import suppress
from typing import TYPE_CHECKING, Any, Final

from planner.errors import JobError
from planner.web.fields import FIELDS, LATER, NEEDED, Field

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.job.records import Job

_YES: Final = {"yes": True, "no": False}


def digest(text: str | None) -> str:
    """Give a short mark of a job's text, by which an old form is known."""
    return hashlib.sha256((text or "").encode()).hexdigest()[:16]


def checked(text: str) -> Job:
    """Read a job and lay out its steps, so that nothing is kept that cannot be planned."""
    from planner.hours.house import with_steps
    from planner.job.jobfile import parse_job

    return with_steps(parse_job(text))


def as_typed(text: str | None) -> dict[str, str]:
    """Give what stands in a job's text, field by field, as somebody would type it."""
    import tomlkit

    found = dict.fromkeys(FIELDS, "")
    if text is None:
        return found
    whole = tomlkit.parse(text).unwrap()
    for key, field in FIELDS.items():
        value = _at(whole, key)
        if value is not None:
            found[key] = _shown(value, field)
    return found


def _at(whole: Mapping[str, Any], key: str) -> Any:
    table, _, last = key.rpartition(".")
    inside = whole.get(table, {}) if table else whole
    return inside.get(last) if isinstance(inside, dict) else None


def _shown(value: Any, field: Field) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(str(x) for x in value)
    if field.kind in {"number", "whole"} and isinstance(value, float) and value.is_integer():
        return f"{value:.0f}"
    return str(value)


def to_text(before: str | None, typed: Mapping[str, str]) -> tuple[str, dict[str, JobError]]:
    """Put what was typed into a job's text, and say what is wrong with it.

    Parameters
    ----------
    before : str or None
        The job's text; None starts a new one.
    typed : mapping of str to str
        What each field holds, by key.

    Returns
    -------
    tuple of str and dict of str to JobError
        The new text, and errors by key; with errors the text is of no use. A key that no
        field has stands for what is elsewhere in the job file.
    """
    values: dict[str, Any] = {}
    errors: dict[str, JobError] = {}
    for key, field in FIELDS.items():
        said = _bare(typed.get(key, ""), field)
        try:
            values[key] = _value(said, field) if said else None
        except JobError as error:
            errors[key], values[key] = error, None
        if not said and key in NEEDED:
            errors[key] = JobError(
                "This is missing.", fix=f"Fill it in: {field.hint}.", key=key
            )
    text = _written(before, values, wrong=errors)
    while True:  # each turn finds one more field that is wrong, or the last
        try:
            checked(text)
        except JobError as error:
            key = _field_of(error)
            if key in errors or key not in FIELDS:
                errors.setdefault(key, error)
                return text, errors
            errors[key] = error
            text = _written(before, values, wrong=errors)
            continue
        return text, errors


def _field_of(error: JobError) -> str:
    """Name the field an error belongs beside; the house as a whole goes by its width."""
    key = error.key or ""
    return {"house": "house.width", "place": "place.latitude"}.get(key, key)


def _written(
    before: str | None, values: Mapping[str, Any], *, wrong: Mapping[str, JobError]
) -> str:
    """Write the values; those that are wrong give way to one that is not."""
    stand_in = {
        "name": "house",
        "place.latitude": 44.5,
        "place.longitude": -93.2,
        "house.width": "30 ft",
        "house.length": "96 ft",
        "crew.people": 4,
    }
    said = {key: stand_in.get(key) if key in wrong else value for key, value in values.items()}
    if before is not None:
        return _patched(before, said)
    from planner.job.newfile import new_job_text

    given = {key: value for key, value in said.items() if value is not None}
    try:
        text = new_job_text({key: given[key] for key in given if key not in LATER})
    except JobError:  # found again, and put beside its field, by the check of the whole
        text = "\n".join(f"{key} = {_toml(value)}" for key, value in given.items())
    return _patched(text, said)


def _bare(said: str, field: Field) -> str:
    """Take off space around, and quotes that somebody typed along from an example."""
    said = said.strip()
    if len(said) > 1 and said[0] == said[-1] == '"' and field.kind != "text":
        return said[1:-1].strip()
    return said


def _value(said: str, field: Field) -> Any:
    """Turn the text of one field into a value of the job file."""
    kind = field.kind
    if kind in {"number", "whole"}:
        return _number(said, field)
    if kind == "date":
        return _date(said, field)
    if kind == "days":
        return [_day(x.strip(), field) for x in said.split(",") if x.strip()]
    if kind == "yes_no":
        return _YES.get(said.lower(), said)
    if kind == "choice" and said in field.choices and said.isdigit():
        return int(said)
    return said


def _number(said: str, field: Field) -> float | int:
    with suppress(ValueError):
        if said.isascii() and "_" not in said:
            return int(said)
    with suppress(ValueError):
        if said.isascii() and "_" not in said and field.kind == "number":
            return float(said)
    what = "a whole number" if field.kind == "whole" else "a number"
    point = " Write a point, not a comma." if "," in said else ""
    hint = field.hint or "as 250"
    raise JobError(f'"{said[:40]}" is not {what}.{point}', fix=f"Write digits: {hint}.")


def _date(said: str, field: Field) -> dt.date:
    try:
        return dt.date.fromisoformat(said)
    except ValueError as error:
        raise JobError(
            f'"{said[:40]}" is not a date.', fix="Write year-month-day: 2026-05-09."
        ) from error


def _day(said: str, field: Field) -> dt.date | str:
    return _date(said, field) if said[:1].isdigit() else said


def _toml(value: Any) -> str:
    import tomlkit

    return str(tomlkit.item(value).as_string())


def _patched(text: str, values: Mapping[str, Any]) -> str:
    """Write values into a job's text, leaving alone all that is the same."""
    import tomlkit

    document = tomlkit.parse(text)
    whole = document.unwrap()
    for key, value in values.items():
        was = _at(whole, key)
        if value == was and isinstance(value, bool) == isinstance(was, bool):
            continue
        table, _, last = key.rpartition(".")
        if value is None:
            if was is not None:
                (document[table] if table else document).pop(last)
        elif was is None or table not in whole:
            _added(document, table, last, value)
        else:
            (document[table] if table else document)[last] = value
    return tomlkit.dumps(document)


def _added(document: Any, table: str, last: str, value: Any) -> None:
    """Add a key behind the last one of its table, before the comments that follow."""
    import tomlkit
    from tomlkit.items import Table

    if not table:
        document[last] = value
        return
    if table not in document:
        document[table] = tomlkit.table()
    inside = document[table]
    if not isinstance(inside, Table):
        inside[last] = value
        return
    body, tail = inside.value.body, []
    while body and body[-1][0] is None:
        tail.append(body.pop())
    inside[last] = value
    body.extend(reversed(tail))


def described(error: JobError) -> str:
    """Write an error that belongs to no field, with its place in the job file."""
    place = [f"line {error.line}"] if error.line else []
    place += [error.key] if error.key else []
    return f"In the job file, {', '.join(place)}: {error.message}" if place else error.message


def accepted(text: str) -> str:
    """Take the text of a whole job file as it is, if it can be planned.

    Parameters
    ----------
    text : str
        As uploaded or typed.

    Returns
    -------
    str
        The same, with plain line ends.

    Raises
    ------
    JobError
        If it cannot be read, or edited field by field.
    """
    import tomlkit

    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    checked(text)
    try:
        tomlkit.parse(text)
    except ValueError as error:
        raise JobError(
            f"The job file cannot be edited: {error}.", fix="Write it more plainly."
        ) from error
    return text
