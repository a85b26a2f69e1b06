"""The lines of a block of text: where they end, how many fields each has, which are rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.errors import WeatherError
from planner.weather.formats.maps import split_line
from planner.weather.table import Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.formats.maps import Format


class TextLines:
    """The lines of a block.

    Parameters
    ----------
    block : bytes
        Lines, each ended by a line feed but perhaps for the last.
    separator : str
        Between fields; " " is any run of blanks.
    """

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
        size = np.dtype(np.uint8 if width < 100 else np.int64)  # bytes are five times as fast
        if self.separator == " ":
            marks = self._words()
            return np.asarray(np.add.reduceat(marks, self.starts, dtype=size) == width)
        marks = (self.data == ord(self.separator)).view(np.uint8)
        if b'"' in self.block:
            quoted = np.add.accumulate((self.data == ord('"')).view(np.uint8), dtype=np.uint8)
            marks = marks & ~quoted & 1
        return np.asarray(np.add.reduceat(marks, self.starts, dtype=size) == width - 1)

    def _words(self) -> NDArray[np.uint8]:
        """Mark the first letter of every run of letters."""
        letter = self.data > ord(" ")
        before = np.concatenate([[False], letter[:-1]])
        first: NDArray[np.uint8] = (letter & ~before).view(np.uint8)
        return first

    def line(self, row: int) -> bytes:
        """Give a line with its end."""
        return self.block[self.starts[row] : self.ends[row] + 1]

    def text(self, row: int) -> str:
        """Give a line without the space around it."""
        return self.line(row).decode("latin-1").strip()

    def fields(self, row: int) -> int:
        """Count the fields of one line, separators in quotes left out."""
        return len(split_line(self.line(row).decode("latin-1").strip("\r\n"), self.separator))

    def is_last(self, row: int) -> bool:
        """Say whether nothing follows a line."""
        return not self.block[self.ends[row] :].strip()


def without_comments(
    block: bytes, chosen: Format, first: int
) -> tuple[bytes, NDArray[np.int64] | None]:
    """Leave comment lines out; give the line number of every line that stays."""
    mark = chosen.layout.get("comment", "").encode()
    if not mark or mark not in block:
        return block, None
    lines = enumerate(block.split(b"\n"), first)
    kept = [(number, line) for number, line in lines if not line.lstrip().startswith(mark)]
    return b"\n".join(line for _, line in kept), np.array([n for n, _ in kept], np.int64)


def whole_lines(
    layout: TextLines, numbers: NDArray[np.int64], *, width: int, file: str, notes: list[Note]
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
