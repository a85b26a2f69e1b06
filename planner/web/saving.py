"""Names of files: those of downloads, and the job file that is saved by name."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

from planner.errors import UsageError

_RESERVED: Final = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
_FORBIDDEN: Final = re.compile(r'[<>:"|?*\x00-\x1f\x7f]')
_LONGEST: Final = 80


def download_name(job: str, ending: str) -> str:
    """Give a file name of plain letters from a job's name.

    Parameters
    ----------
    job : str
        The job's name.
    ending : str
        What follows it, with the dot.

    Returns
    -------
    str
        The name.

    Examples
    --------
    >>> download_name("Tunnel Süd / 2", "-card.pdf"), download_name("???", ".json")
    ('tunnel-sud-2-card.pdf', 'job.json')
    """
    from planner.report.words import plain

    stem = re.sub(r"[^a-z0-9]+", "-", plain(job).lower()).strip("-")[:60].strip("-")
    if _RESERVED.fullmatch(stem):
        stem = f"job-{stem}"
    return (stem or "job") + ending


def save_job(text: str, name: str, folder: Path, *, replace: bool) -> Path:
    """Save a job file under a name in one folder, whole or not at all.

    Parameters
    ----------
    text : str
        The job.
    name : str
        As typed: a bare name that ends in .toml.
    folder : pathlib.Path
        Where it is written.
    replace : bool
        Whether a file of that name may be replaced.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    UsageError
        If the name is a path or no name for a job file, or the file is there and must not
        be replaced.
    PlannerError
        If it cannot be written.
    """
    from planner.report.save import write_whole

    path = folder / _checked(name.strip())
    if path.is_dir():
        raise UsageError("A folder has that name.", fix="Choose another name.", key="file")
    if path.exists() and not replace:
        raise UsageError(
            f"{path.name} is there already.",
            fix="Choose another name, or tick the box to replace it.",
            key="file",
        )
    write_whole(path, text)
    return path


def _checked(name: str) -> str:
    """Refuse whatever is no plain name of a job file."""
    problem = ""
    if not name:
        problem = "The name is missing."
    elif "/" in name or "\\" in name:
        problem = "This is a path; the file is saved in the folder of the planner."
    elif name.startswith(".") or name.endswith((" ", ".")):
        problem = "A name that begins or ends with a dot would be hidden or lost."
    elif not name.lower().endswith(".toml"):
        problem = "A job file ends in .toml."
    elif _FORBIDDEN.search(name) or not name.isprintable() or _RESERVED.fullmatch(name):
        problem = "Not every computer takes this name."
    elif len(name) > _LONGEST:
        problem = f"The name is longer than {_LONGEST} letters."
    if problem:
        raise UsageError(problem, fix='Write a plain name, as "north-tunnel.toml".', key="file")
    return name
