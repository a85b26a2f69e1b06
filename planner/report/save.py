"""Make files of a plan, pull and tension, past forecasts, a weather file, by the suffix.

A file is written beside its place and then renamed, so that a crash leaves the old
one whole.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from planner.errors import PlannerError, UsageError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from planner.history.records import Replay
    from planner.plan.records import Plan, TensionPlan
    from planner.weather.table import Weather

#: What a plan can be written as: data, page, crew card (two ways), calendar, day sheet.
SUFFIXES: Final = (".json", ".html", ".pdf", ".txt", ".ics", ".svg", ".png")
REPLAY_SUFFIXES: Final = (".json", ".svg", ".png")
TENSION_SUFFIXES: Final = (".json", ".csv", ".svg", ".png")
INSPECT_SUFFIXES: Final = (".json", ".svg", ".png")


def check_suffixes(paths: Iterable[str | Path], suffixes: tuple[str, ...]) -> None:
    """Refuse a file whose suffix says nothing to the planner, before any work is done.

    Parameters
    ----------
    paths : iterable of str or pathlib.Path
        Where the user wants files.
    suffixes : tuple of str
        What can be written.

    Raises
    ------
    UsageError
        If a suffix is not one of them, or the folder is not there.
    """
    for path in map(Path, paths):
        if path.suffix.lower() not in suffixes:
            raise UsageError(
                f'Nothing is written to files ending in "{path.suffix or path.name}".',
                fix=f"Choose one of {', '.join(suffixes)}.",
                key="--save",
            )
        if not path.parent.is_dir():
            raise UsageError(f"There is no folder {path.parent}.", key="--save")


def plan_file(plan: Plan, suffix: str, *, units: str, paper: str | None = None) -> bytes:
    """Make one of the files that a plan can be written as.

    Parameters
    ----------
    plan : Plan
        The plan.
    suffix : str
        ``.json`` (``windows/1``), ``.html`` (the page), ``.pdf`` or ``.txt`` (the crew
        card), ``.ics`` (the calendar), ``.svg`` or ``.png`` (the day sheet).
    units : {"us", "si"}
        Which units to write.
    paper : {"letter", "a4"}, optional
        Of the crew card; Letter in US units, else A4.

    Returns
    -------
    bytes
        The same for the same plan, but for a ``.png``.
    """
    suffix = suffix.lower()
    if suffix == ".pdf":
        from planner.report.card.pdf import card_pdf

        return card_pdf(plan, units=units, paper=paper or ("letter" if units == "us" else "a4"))
    if suffix in {".svg", ".png"}:
        from planner.report.picture.day_sheet import chart_bytes, day_sheet

        return chart_bytes(day_sheet(plan, units=units), suffix)
    if suffix == ".json":
        from planner.report.record.windows import windows_1

        return _json(windows_1(plan))
    return _text(plan, suffix, units=units).encode()


def _text(plan: Plan, suffix: str, *, units: str) -> str:
    if suffix == ".html":
        from planner.report.page.page import page

        return page(plan, units=units)
    if suffix == ".txt":
        from planner.report.card.text import card_text

        return card_text(plan, units=units)
    from planner.report.calendar.file import calendar_text

    return calendar_text(plan, units=units)


def tension_file(plan: TensionPlan, suffix: str, *, units: str) -> bytes:
    """Make one of the files that say how tight the film is to be.

    Parameters
    ----------
    plan : TensionPlan
        The pull chart, and the course of the coming days if there is one.
    suffix : str
        ``.json`` (``tension/1``), ``.csv`` (the course, without one the chart; SI), ``.svg``
        or ``.png`` (both).
    units : {"us", "si"}
        Units of the picture.

    Returns
    -------
    bytes
        The whole file.
    """
    suffix = suffix.lower()
    if suffix == ".json":
        from planner.report.record.tension import tension_1

        return _json(tension_1(plan))
    if suffix == ".csv":
        from planner.report.record.tension import chart_csv

        return chart_csv(plan).encode()
    from planner.report.picture.day_sheet import chart_bytes
    from planner.report.picture.tension import tension_figure

    return chart_bytes(tension_figure(plan, units=units), suffix)


def replay_file(replay: Replay, suffix: str) -> bytes:
    """Make one of the files of past forecasts played against what came.

    Parameters
    ----------
    replay : Replay
        What came of it.
    suffix : str
        ``.json`` (``replay/1``), ``.svg`` or ``.png`` (how chances held).

    Returns
    -------
    bytes
        The whole file.
    """
    suffix = suffix.lower()
    if suffix == ".json":
        from planner.report.record.replay import replay_json

        return _json(replay_json(replay))
    from planner.report.picture.day_sheet import chart_bytes
    from planner.report.picture.reliability import reliability_figure

    return chart_bytes(reliability_figure(replay), suffix)


def inspect_file(
    weather: Weather, suffix: str, *, time_zone: str = "UTC", files: Sequence[str] = ()
) -> bytes:
    """Make one of the files that say which hours of a weather file hold a number.

    Parameters
    ----------
    weather : Weather
        As read.
    suffix : str
        ``.json`` (``inspect/1`` with the shares), ``.svg`` or ``.png`` (the picture).
    time_zone : str
        Of days, months and clock hours.
    files : sequence of str
        What it was read from.

    Returns
    -------
    bytes
        The whole file.
    """
    from planner.report.picture.availability import availability_figure, columns_to_draw

    suffix = suffix.lower()
    if suffix == ".json":
        from planner.report.availability import shares
        from planner.report.record.inspect import inspect_1

        found = shares(weather, tuple(columns_to_draw(weather)), time_zone=time_zone)
        return _json(inspect_1(weather=weather, files=files, availability=found))
    from planner.report.picture.day_sheet import chart_bytes

    return chart_bytes(availability_figure(weather, time_zone=time_zone), suffix)


def _json(record: dict[str, Any]) -> bytes:
    from planner.report.record.windows import dumps

    return f"{dumps(record)}\n".encode()


def write_whole(path: str | Path, content: str | bytes) -> None:
    """Write beside, then rename; leave nothing half-written.

    Parameters
    ----------
    path : str or pathlib.Path
        Where the file is to be.
    content : str or bytes
        All of it; text goes out as UTF-8, its line ends as they are.

    Raises
    ------
    PlannerError
        If the disk or the folder refuses.
    """
    path, beside = Path(path), None
    try:
        handle, name = tempfile.mkstemp(
            dir=path.parent, prefix=f".{path.stem}-", suffix=path.suffix
        )
        beside = Path(name)
        with os.fdopen(handle, "wb") as file:
            file.write(content.encode() if isinstance(content, str) else content)
        beside.chmod(0o666 & ~_umask())
        beside.replace(path)
    except OSError as error:
        raise PlannerError(
            f"Cannot be written: {error.strerror or error}.",
            fix="Choose another place for it.",
            file=str(path),
        ) from error
    finally:
        if beside is not None:
            beside.unlink(missing_ok=True)


def _umask() -> int:
    """Give the user's file mode mask, which ``mkstemp`` ignores."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
