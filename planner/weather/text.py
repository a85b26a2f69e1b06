"""Open a weather file and find the table in it.

Plain, gzip or zip; UTF-8 or Latin-1; with lines above the table and other
tables below it. What comes out is the block of data lines, checked to have as
many fields as the header, with the line number of every row.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from planner.errors import WeatherError
from planner.weather.formats import Field, Format, find_format
from planner.weather.packed import not_opened, unpack
from planner.weather.table import Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

_HEAD_LINES: Final = 300
_HEAD_BYTES: Final = 400_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """The table of one file, still as text.

    Attributes
    ----------
    file : str
        The file's name, for messages.
    format : Format
        How to read it.
    fields : tuple of Field
        The header.
    meta : dict of str to str
        What the lines above the table say, by the planner's names.
    block : bytes
        The data lines.
    lines : numpy.ndarray, shape (rows,)
        Line number of every row, from 1.
    encoding : str
        "utf-8" or "latin-1".
    """

    file: str
    format: Format
    fields: tuple[Field, ...]
    meta: dict[str, str]
    block: bytes
    lines: NDArray[np.int64]
    encoding: str


def read_sheet(
    path: Path, *, named: str | None, location: str | None, notes: list[Note]
) -> Sheet:
    """Open a file, recognise its format and cut out its table.

    Parameters
    ----------
    path : pathlib.Path
        The file; .gz, and .zip with one text file inside, are opened.
    named : str or None
        Name of a format; None recognises it by its content.
    location : str or None
        Which of several places the lines above the table should speak of.
    notes : list of Note
        What was found is added here.

    Returns
    -------
    Sheet
        The table as text.

    Raises
    ------
    WeatherError
        If the file cannot be opened, holds no data, or a line has too few or
        too many fields (a last line cut short is left out with a note).
    UnknownFormat
        If its format cannot be told.
    """
    file = str(path)
    data, encoding = _text(_open(path), file)
    if encoding != "utf-8":
        text = f"{file} is not UTF-8 text; it was read as Latin-1."
        notes.append(Note(code="encoding", text=text))
    head = data[:_HEAD_BYTES].decode(encoding, errors="replace").split("\n")[:_HEAD_LINES]
    head = [line.rstrip("\r") for line in head]
    chosen, at = find_format(head, name=named, file=file)
    if chosen.layout.get("blocks"):
        at = _hourly_block(head, chosen, at)
    fields = chosen.fields(head[at])
    _refuse_twins(fields, file=file, line=at + 1)
    lines_above = data.split(b"\n", at + 1)
    block = lines_above[at + 1] if len(lines_above) > at + 1 else b""
    if chosen.layout.get("blocks"):
        block = _first_block(block, at + 2, file=file, notes=notes)
    block, numbers = _without_comments(block, chosen, at + 2)
    layout = _Lines(block, chosen.separator)
    if numbers is None:
        numbers = np.arange(at + 2, at + 2 + layout.ends.size)
    numbers = numbers[: layout.ends.size]
    block, lines = _whole_lines(layout, numbers, width=len(fields), file=file, notes=notes)
    return Sheet(
        file=file,
        format=chosen,
        fields=fields,
        meta=_metadata(chosen, head[:at], location=location),
        block=block,
        lines=lines,
        encoding=encoding,
    )


def _open(path: Path) -> bytes:
    file = str(path)
    if path.is_dir():
        raise WeatherError(
            "This is a folder.", fix="Name the weather file or files in it.", file=file
        )
    try:
        data = path.read_bytes()
    except FileNotFoundError as err:
        raise WeatherError(
            "There is no such file.", fix="Check the name and the folder.", file=file
        ) from err
    except OSError as err:
        raise not_opened(err, file) from err
    return unpack(data, file)


def _text(data: bytes, file: str) -> tuple[bytes, str]:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        data = data.decode("utf-16", errors="replace").encode()
    data = data.removeprefix(b"\xef\xbb\xbf")
    if not data.strip():
        raise WeatherError("The file is empty.", fix="Save or download it again.", file=file)
    sample = data[:4096]
    strange = sum(byte < 32 and byte not in b"\t\n\r\f" for byte in sample)
    if b"\0" in data or strange > len(sample) // 50:
        raise WeatherError(
            "This is not a text file.",
            fix="The planner reads CSV or text, plain, .gz or .zip; save a table as CSV.",
            file=file,
        )
    if sample.lstrip()[:1] == b"<":
        raise WeatherError(
            "This is a web page, not a table.",
            fix="Download the data itself; the address may be wrong or need a login.",
            file=file,
        )
    letters = np.append(np.frombuffer(data, np.uint8), np.uint8(0))
    if (letters[np.flatnonzero(letters == ord("\r")) + 1] != ord("\n")).any():
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return data, "latin-1"
    return data, "utf-8"


def _hourly_block(head: list[str], chosen: Format, first: int) -> int:
    """Find the header of the hourly table among tables behind blank lines."""
    text = "\n".join(head)
    for at in range(first, len(head) - 2):
        if at > first and head[at - 1].strip():
            continue
        if chosen.fits(head[at], text) and _an_hour_apart(head[at : at + 3], chosen):
            return at
    return first


def _an_hour_apart(three: list[str], chosen: Format) -> bool:
    """Say whether the two rows below a header are an hour apart."""
    clock = chosen.time["columns"][0]
    place = next(field.at for field in chosen.fields(three[0]) if field.name == clock)
    rows = [[*line.split(chosen.separator), *[""] * (place + 1)] for line in three[1:]]
    cells = pd.Series([row[place] for row in rows])
    if cells.str.isdigit().all():
        return int(cells[1]) - int(cells[0]) == 3600
    times = pd.to_datetime(cells, format="ISO8601", errors="coerce", utc=True)
    return bool(times[1] - times[0] == pd.Timedelta(hours=1))


def _first_block(block: bytes, first: int, *, file: str, notes: list[Note]) -> bytes:
    """Cut the data off at the first blank line [line of the block's start: ``first``]."""
    block = block.replace(b"\r", b"")
    kept, _, rest = block.partition(b"\n\n")
    if not rest.strip():
        return block
    at = first + kept.count(b"\n") + 1
    if rest.lstrip()[:1].isdigit():
        raise WeatherError(
            "A blank line cuts the hourly data in two.",
            fix="Take the blank line out.",
            file=file,
            line=at,
        )
    text = f"Only the hourly table was read; what follows line {at} was not."
    notes.append(Note(code="other_blocks", text=text))
    return kept + b"\n"


def _metadata(chosen: Format, head: list[str], *, location: str | None) -> dict[str, str]:
    style = chosen.layout.get("metadata")
    found: dict[str, str] = {}
    if style == "comments":
        for line in head:
            key, colon, value = line.lstrip("# ").partition(":")
            if line.startswith("#") and colon:
                found[key.strip().lower()] = value.strip()
    elif style == "block":
        found = _block_metadata(chosen, head, location=location)
    return {ours: found[name] for ours, name in chosen.metadata.items() if name in found}


def _block_metadata(chosen: Format, head: list[str], *, location: str | None) -> dict[str, str]:
    lines = [line for line in head if line.strip()]
    at = next((i for i, line in enumerate(lines) if "latitude" in line), len(lines))
    rows = list(csv.DictReader(lines[at:], delimiter=chosen.separator))
    group = chosen.layout.get("group", "")
    named = [row for row in rows if location is not None and row.get(group) == location]
    row = next(iter(named or rows), {})
    return {key: value for key, value in row.items() if key and isinstance(value, str)}


def _refuse_twins(fields: tuple[Field, ...], *, file: str, line: int) -> None:
    seen: set[tuple[str, str]] = set()
    for field in fields:
        key = (field.name, field.member)
        if field.name and key in seen:
            raise WeatherError(
                f'The header names "{field.name}" twice.',
                fix="Take one of the two columns out.",
                file=file,
                line=line,
            )
        seen.add(key)


def _without_comments(
    block: bytes, chosen: Format, first: int
) -> tuple[bytes, NDArray[np.int64] | None]:
    """Leave comment lines out; give the line number of every line that stays."""
    mark = chosen.layout.get("comment", "").encode()
    if not mark or mark not in block:
        return block, None
    lines = enumerate(block.split(b"\n"), first)
    kept = [(number, line) for number, line in lines if not line.lstrip().startswith(mark)]
    return b"\n".join(line for _, line in kept), np.array([n for n, _ in kept], np.int64)


class _Lines:
    """Where the lines of a block begin and end."""

    def __init__(self, block: bytes, separator: str) -> None:
        self.block, self.separator = block, separator
        self.data = np.frombuffer(block, np.uint8)
        self.ends = np.flatnonzero(self.data == ord("\n"))
        if not block.endswith(b"\n"):
            self.ends = np.append(self.ends, self.data.size)
        self.starts = np.concatenate([[0], self.ends[:-1] + 1])
        letters = np.append(self.data, np.uint8(0))[self.starts]
        length = self.ends - self.starts
        self.full = (length > 1) | ((length == 1) & (letters != ord("\r")))

    def fit(self, width: int) -> NDArray[np.bool_]:
        """Say of every line whether it has so many fields."""
        if not self.data.size:
            return np.zeros(self.ends.size, bool)
        marks = (self.data == ord(self.separator)).view(np.uint8)
        size = np.dtype(np.uint8 if width < 100 else np.int64)  # bytes are five times as fast
        fits: NDArray[np.bool_] = np.add.reduceat(marks, self.starts, dtype=size) == width - 1
        return fits

    def line(self, row: int) -> bytes:
        """Give a line with its end."""
        return self.block[self.starts[row] : self.ends[row] + 1]

    def text(self, row: int) -> str:
        """Give a line without the space around it."""
        return self.line(row).decode("latin-1").strip()

    def fields(self, row: int) -> int:
        """Count the fields of one line, separators in quotes left out."""
        return len(next(csv.reader([self.text(row)], delimiter=self.separator), []))

    def is_last(self, row: int) -> bool:
        """Say whether nothing follows a line."""
        return not self.block[self.ends[row] :].strip()


def _whole_lines(
    layout: _Lines, numbers: NDArray[np.int64], *, width: int, file: str, notes: list[Note]
) -> tuple[bytes, NDArray[np.int64]]:
    """Check that every line has ``width`` fields; give the lines that are rows."""
    block, keep = layout.block, layout.full.copy()
    for row in np.flatnonzero(~layout.fit(width)).tolist():
        found = layout.fields(row)
        keep[row] = found == width
        if keep[row] or not layout.text(row):
            continue
        if found > width or not layout.is_last(row):
            raise WeatherError(
                f"This line has {found} fields where the header has {width}.",
                fix="Mend the line or take it out.",
                file=file,
                line=int(numbers[row]),
            )
        told = f"The last line, line {numbers[row]}, is cut short and was left out."
        notes.append(Note(code="cut_line", text=told, doubt=True))
        break
    if not keep.any():
        fix = "Save or download it again."
        raise WeatherError("There is a header but no data below it.", fix=fix, file=file)
    if (layout.full & ~keep).any():
        block = b"".join(layout.line(row) for row in np.flatnonzero(keep).tolist())
    _note_unended(block, int(numbers[keep][-1]), notes)
    return block, numbers[keep]


def _note_unended(block: bytes, line: int, notes: list[Note]) -> None:
    if not block.endswith(b"\n"):
        text = f"Line {line}, the last, has no line break; if it was cut off, its end is wrong."
        notes.append(Note(code="unended_line", text=text))
