"""The table in a text: its header, the lines above it, and rows as wide as the header.

What comes out is checked to have as many fields in every row as the header, with the
line number of each; other tables below it are left alone.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from planner.errors import WeatherError
from planner.weather.file.sheet import Sheet
from planner.weather.file.text_lines import TextLines, whole_lines, without_comments
from planner.weather.formats.maps import Format, split_line
from planner.weather.formats.recognise import Match, find_table, fits_header
from planner.weather.table import Note

if TYPE_CHECKING:
    from planner.weather.file.text import Text
    from planner.weather.formats.maps import Field

_HEAD_LINES: Final = 300
_HEAD_BYTES: Final = 400_000
_DECIMAL_COMMA: Final = re.compile(r"^[-+]?\d*,\d+$")
_PADDING: Final = ' ";\t,'  # what a spreadsheet leaves behind the last cell
_BLANK: Final = re.compile(rb"(?m)^[;\t,]+$")


def find_in_text(text: Text, *, named: str | None) -> tuple[Match, list[str]]:
    """Tell the format of a text, and give its first lines.

    Parameters
    ----------
    text : Text
        The file.
    named : str or None
        Name of a format; None recognises it by its content.

    Returns
    -------
    tuple of Match and list of str
        The format with its header, and the lines at the head of the file.

    Raises
    ------
    UnknownFormat
        If its format cannot be told.
    """
    head = text.data[:_HEAD_BYTES].decode(text.encoding, errors="replace").split("\n")
    head = [line.rstrip("\r") for line in head[:_HEAD_LINES]]
    return find_table(head, name=named, file=text.file), head


def read_table(
    text: Text, match: Match, head: list[str], *, location: str | None, notes: list[Note]
) -> Sheet:
    """Cut the table out of a text and read the columns that its map speaks of.

    Parameters
    ----------
    text : Text
        The file.
    match : Match
        Its format, header and separator.
    head : list of str
        Its first lines.
    location : str or None
        Which of several places the lines above the table should speak of.
    notes : list of Note
        What was found is added here.

    Returns
    -------
    Sheet
        The table.

    Raises
    ------
    WeatherError
        If there are no data, or a line has too few or too many fields (a last line cut
        short is left out with a note).
    """
    chosen, at, file = match.format, match.header, text.file
    if chosen.layout.get("blocks"):
        at = _hourly_block(head, match)
    fields = chosen.fields(head[max(at, 0)], match.separator)
    width = len(fields)
    fields = _without_twins(fields, chosen, file=file, line=at + 1)
    above = text.data.split(b"\n", at + 1)
    block = above[at + 1] if len(above) > at + 1 else b""
    if chosen.layout.get("blocks"):
        block = _first_block(block, at + 2, file=file, notes=notes)
    block, numbers = without_comments(block, chosen, at + 2)
    layout = TextLines(block, match.separator)
    if numbers is None:
        numbers = np.arange(at + 2, at + 2 + layout.ends.size)
    block, lines = whole_lines(
        layout, numbers[: layout.ends.size], width=width, file=file, notes=notes
    )
    decimal = "," if _decimal_comma(block, match) else "."
    sheet = Sheet(
        file=file,
        format=chosen,
        fields=fields,
        meta=_metadata(match, head[: max(at, 0)], location=location),
        frame=_frame(block, match, fields, text, shape=(lines.size, width), decimal=decimal),
        lines=lines,
        decimal=decimal,
    )
    return sheet if chosen.layout.get("metadata") != "columns" else _with_cells(sheet)


def _with_cells(sheet: Sheet) -> Sheet:
    """Take what the file says of the whole from the first cell of the columns named so."""
    found = dict(sheet.meta)
    for ours, name in sheet.format.metadata.items():
        for field in sheet.named(name):
            cells = sheet.frame[field.at].dropna()
            if len(cells):
                found[ours] = str(cells.iloc[0]).strip()
    return replace(sheet, meta=found)


def _frame(
    block: bytes,
    match: Match,
    fields: tuple[Field, ...],
    text: Text,
    *,
    shape: tuple[int, int],
    decimal: str,
) -> pd.DataFrame:
    """Read the known columns by pandas: times, marks and what is split further as text."""
    chosen = match.format
    inner = chosen.layout.get("inner")
    split = {name.rpartition(".")[0] for name in chosen.known if "." in name} if inner else ()
    wanted = [x for x in fields if x.name in chosen.known or x.name in split]
    as_text = {*_texts(chosen), *split}
    try:
        frame = pd.read_csv(
            io.BytesIO(block),
            sep=r"\s+" if match.separator == " " else match.separator,
            header=None,
            names=list(range(shape[1])),
            usecols=sorted(field.at for field in wanted),
            dtype={field.at: object for field in wanted if field.name in as_text},
            na_values=list(chosen.missing),
            keep_default_na=False,
            skipinitialspace=f"{match.separator} ".encode() in block,  # costs a tenth
            low_memory=False,
            encoding=text.encoding,
            decimal=decimal,
        )
    except (ValueError, pd.errors.ParserError) as err:
        raise WeatherError(
            f"The table cannot be read ({err}).", fix="Save it again as CSV.", file=text.file
        ) from err
    if len(frame) != shape[0]:
        raise WeatherError(
            "The lines of this table run into each other.",
            fix='Look for a quotation mark (") that is not closed.',
            file=text.file,
        )
    return frame


def _texts(chosen: Format) -> set[str]:
    """Name the columns that are read as text whatever they look like."""
    names = {str(chosen.layout.get("issue", "")), str(chosen.time.get("reports", ""))}
    if chosen.time["kind"] != "parts":
        names |= set(chosen.time["columns"])
    for source in chosen.columns:
        names |= {*source.needs[1:]}
        if source.words or source.compass:
            names.add(source.name)
    return names | {*chosen.layout.get("keep", ()), *chosen.layout.get("prefer", ())}


def _decimal_comma(block: bytes, match: Match) -> bool:
    """Say whether numbers have decimal commas; only where commas do not split fields."""
    if match.separator == ",":
        return False
    first = block[:_HEAD_BYTES].decode("latin-1").split("\n")[:_HEAD_LINES]
    cells = (cell.strip() for line in first for cell in split_line(line, match.separator))
    return any(_DECIMAL_COMMA.match(cell) for cell in cells)


def _hourly_block(head: list[str], match: Match) -> int:
    """Find the header of the hourly table among tables behind blank lines."""
    text = "\n".join(head)
    for at in range(match.header, len(head) - 2):
        if at > match.header and head[at - 1].strip(f" {match.separator}"):
            continue
        fits = fits_header(match.format, head[at], text, match.separator)
        if fits and _an_hour_apart(head[at : at + 3], match):
            return at
    return match.header


def _an_hour_apart(three: list[str], match: Match) -> bool:
    """Say whether the two rows below a header are an hour apart."""
    clock = match.format.time["columns"][0]
    fields = match.format.fields(three[0], match.separator)
    place = next(field.at for field in fields if field.name == clock)
    rows = [[*line.split(match.separator), *[""] * (place + 1)] for line in three[1:]]
    cells = pd.Series([row[place] for row in rows])
    if cells.str.isdigit().all():
        return int(cells[1]) - int(cells[0]) == 3600
    times = pd.to_datetime(cells, format="ISO8601", errors="coerce", utc=True)
    return bool(times[1] - times[0] == pd.Timedelta(hours=1))


def _first_block(block: bytes, first: int, *, file: str, notes: list[Note]) -> bytes:
    """Cut the data off at the first blank line [line of the block's start: ``first``]."""
    block = _BLANK.sub(b"", block.replace(b"\r", b""))
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


def _metadata(match: Match, head: list[str], *, location: str | None) -> dict[str, str]:
    style = match.format.layout.get("metadata")
    found: dict[str, str] = {}
    if style in ("comments", "columns"):
        for line in head:
            if line.lstrip('"').startswith("#"):
                name, value = _said(line.strip(_PADDING).lstrip("# "), match.format)
                found[name] = f"{found[name]}\n{value}" if name in found else value
    elif style == "block":
        found = _block_metadata(match, head, location=location)
    if match.separator != ",":
        found = {key: _with_point(value) for key, value in found.items()}
    names = match.format.metadata
    return {ours: found[name] for ours, name in names.items() if name in found}


def _said(line: str, chosen: Format) -> tuple[str, str]:
    """Split "key: value", or "key -> value" where the map knows such a key."""
    for mark in ("->", ":"):
        key, found, value = line.partition(mark)
        name = key.strip().lower()
        if found and (mark == ":" or name in chosen.metadata.values()):
            return name, value.strip()
    return "", ""


def _with_point(value: str) -> str:
    return value.replace(",", ".") if _DECIMAL_COMMA.match(value) else value


def _block_metadata(match: Match, head: list[str], *, location: str | None) -> dict[str, str]:
    lines = [line for line in head if line.strip()]
    at = next((i for i, line in enumerate(lines) if "latitude" in line), len(lines))
    rows = list(csv.DictReader(lines[at:], delimiter=match.separator))
    group = match.format.layout.get("group", "")
    named = [row for row in rows if location is not None and row.get(group) == location]
    row = next(iter(named or rows), {})
    return {key: value for key, value in row.items() if key and isinstance(value, str)}


def _without_twins(
    fields: tuple[Field, ...], chosen: Format, *, file: str, line: int
) -> tuple[Field, ...]:
    """Refuse a quantity that stands twice; of other columns of one name take the first."""
    numbers = {source.name for source in chosen.columns}
    kept: dict[tuple[str, ...], Field] = {}
    for field in fields:
        key = (field.name, field.member, field.model)
        if field.name in numbers and key in kept:
            raise WeatherError(
                f'The header names "{field.name}" twice.',
                fix="Take one of the two columns out.",
                file=file,
                line=line,
            )
        kept.setdefault(key, field)
    return tuple(kept.values())
