"""Write a plan to files: the suffix decides what is written.

A file is written beside its place and then renamed, so that a crash leaves the old
one whole.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from planner.errors import PlannerError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from planner.plan.records import Plan, TensionPlan

SUFFIXES = (".json", ".svg", ".png")
TENSION_SUFFIXES = (*SUFFIXES, ".csv")


def check_suffixes(paths: Iterable[str | Path], suffixes: tuple[str, ...] = SUFFIXES) -> None:
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


def save_plan(plan: Plan, path: str | Path, *, units: str) -> None:
    """Write a plan as the suffix says.

    Parameters
    ----------
    plan : Plan
        The plan.
    path : str or pathlib.Path
        ``.json`` (``windows/1``), ``.svg`` or ``.png`` (the day sheet).
    units : {"us", "si"}
        Units of the picture.

    Raises
    ------
    PlannerError
        If the file cannot be written.
    """
    path = Path(path)
    if path.suffix.lower() == ".json":
        from planner.report.as_json import dumps, windows_1

        _write_text(path, dumps(windows_1(plan)) + "\n")
        return
    from planner.report.chart import day_sheet, save_chart

    figure = day_sheet(plan, units=units)
    write_whole(path, lambda place: save_chart(figure, place))


def save_tension(plan: TensionPlan, path: str | Path, *, units: str) -> None:
    """Write how tight the film is to be as the suffix says.

    Parameters
    ----------
    plan : TensionPlan
        The pull chart, and the course of the coming days if there is one.
    path : str or pathlib.Path
        ``.json`` (``tension/1``), ``.csv`` (the course, without one the chart; SI), ``.svg``
        or ``.png`` (both).
    units : {"us", "si"}
        Units of the picture.

    Raises
    ------
    PlannerError
        If the file cannot be written.
    """
    path = Path(path)
    if path.suffix.lower() == ".json":
        from planner.report.as_json import dumps
        from planner.report.tension_json import tension_1

        _write_text(path, dumps(tension_1(plan)) + "\n")
    elif path.suffix.lower() == ".csv":
        from planner.report.tension_json import chart_csv

        _write_text(path, chart_csv(plan))
    else:
        from planner.report.chart import save_chart
        from planner.report.tension_chart import tension_figure

        figure = tension_figure(plan, units=units)
        write_whole(path, lambda place: save_chart(figure, place))


def _write_text(path: Path, text: str) -> None:
    write_whole(path, lambda place: place.write_text(text, encoding="utf-8", newline="\n"))


def write_whole(path: Path, write: Callable[[Path], object]) -> None:
    """Write beside, then rename; leave nothing half-written.

    Parameters
    ----------
    path : pathlib.Path
        Where the file is to be.
    write : callable
        Writes to the path it is given, which has the same suffix.

    Raises
    ------
    PlannerError
        If the disk or the folder refuses.
    """
    beside = None
    try:
        handle, name = tempfile.mkstemp(
            dir=path.parent, prefix=f".{path.stem}-", suffix=path.suffix
        )
        os.close(handle)
        beside = Path(name)
        write(beside)
        beside.chmod(0o666 & ~_umask())
        beside.replace(path)
    except OSError as error:
        raise PlannerError(
            f"Cannot be written: {error.strerror or error}.", file=str(path)
        ) from error
    finally:
        if beside is not None:
            beside.unlink(missing_ok=True)


def _umask() -> int:
    """Give the user's file mode mask, which ``mkstemp`` ignores."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
