"""A weather file out of its .gz or .zip, never larger than a weather file can be."""

from __future__ import annotations

import gzip
import io
import zipfile
import zlib
from typing import IO, Final

from planner.errors import WeatherError

#: How large a packed file may become [byte]; hourly tables of decades stay far below.
MOST_UNPACKED: Final = 200_000_000
_DATA: Final = (".txt", ".csv", ".psv", ".json", ".epw")
_BESIDE: Final = ("metadaten", "readme", "license", ".")  # what lies beside the data in a zip
_CHUNK: Final = 1 << 18  # byte


def unpack(data: bytes, file: str, *, most: int = MOST_UNPACKED) -> bytes:
    """Take a weather file out of its .gz or .zip; any other comes back as it is.

    Parameters
    ----------
    data : bytes
        The file as it came.
    file : str
        Its name, for messages.
    most : int
        How large it may become [byte].

    Returns
    -------
    bytes
        The text in it.

    Raises
    ------
    WeatherError
        If it is broken, a zip without one table in it, or larger than ``most`` unpacked;
        no more of it than that is unpacked.
    """
    try:
        if data[:4] == b"PK\x03\x04":
            return _unzip(data, file, most=most)
        if data[:2] == b"\x1f\x8b":
            with gzip.GzipFile(fileobj=io.BytesIO(data)) as packed:
                return _at_most(packed, file, most=most)
    except (OSError, EOFError, zlib.error, zipfile.BadZipFile, RuntimeError) as err:
        raise not_opened(err, file) from err
    return data


def not_opened(err: Exception, file: str) -> WeatherError:
    """Say that a file cannot be opened, and why."""
    return WeatherError(
        f"It cannot be opened ({err}).", fix="Save or download it again.", file=file
    )


def _at_most(packed: io.BufferedIOBase | IO[bytes], file: str, *, most: int) -> bytes:
    """Unpack up to ``most`` bytes, refused where there are more."""
    data = bytearray()
    while chunk := packed.read(_CHUNK):
        data += chunk
        if len(data) <= most:
            continue
        raise WeatherError(
            f"Unpacked, it is larger than {most / 1e6:.0f} MB.",
            fix="No weather table of one place is so large; take the hours you need out of it.",
            file=file,
        )
    return bytes(data)


def _is_data(name: str) -> bool:
    bare = name.rpartition("/")[2].lower()
    return bare.endswith(_DATA) and not bare.startswith(_BESIDE)


def _unzip(data: bytes, file: str, *, most: int) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as box:
        names = [name for name in box.namelist() if _is_data(name)]
        if len(names) != 1:
            inside = ", ".join(names or box.namelist()[:5]) or "nothing"
            raise WeatherError(
                f"A zip must hold one weather file; this one holds {inside}.",
                fix="Unpack it and name the file you want.",
                file=file,
            )
        with box.open(names[0]) as packed:
            return _at_most(packed, file, most=most)
