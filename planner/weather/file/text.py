"""A weather file as text: out of its packing, in one encoding, with one kind of line end."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from planner.errors import WeatherError
from planner.weather.file.packed import not_opened, unpack
from planner.weather.table import Note


@dataclass(frozen=True, slots=True, kw_only=True)
class Raw:
    """Weather data that is in no file: an answer or an upload, and what to call it."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Text:
    """A file as text: its name for messages, its bytes, and "utf-8" or "latin-1"."""

    file: str
    data: bytes
    encoding: str

    def decoded(self) -> str:
        """Give it as one string."""
        return self.data.decode(self.encoding)


def read_text(source: str | Path | Raw, notes: list[Note]) -> Text:
    """Open a file, plain, .gz or .zip, and give its text.

    Parameters
    ----------
    source : path or Raw
        The file, or the data itself.
    notes : list of Note
        What was found is added here.

    Returns
    -------
    Text
        Without a byte-order mark, lines ended by a line feed (and perhaps a carriage
        return before it).

    Raises
    ------
    WeatherError
        If it cannot be opened, is empty or is no text.
    """
    if isinstance(source, Raw):
        file, data = source.name, unpack(source.data, source.name)
    else:
        file, data = str(source), _open(Path(source))
    data, encoding = _text(data, file)
    if encoding != "utf-8":
        text = f"{file} is not UTF-8 text; it was read as Latin-1."
        notes.append(Note(code="encoding", text=text))
    return Text(file=file, data=data, encoding=encoding)


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
