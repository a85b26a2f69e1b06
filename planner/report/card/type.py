"""The type of the crew card: which letters it has, how wide they are, where lines break."""

from __future__ import annotations

import re
import unicodedata
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from planner.report import words as say

if TYPE_CHECKING:
    from matplotlib.font_manager import FontProperties

POINT: Final = 1.0 / 72.0  # in
_KEPT: Final = "\u00a0"  # a space at which no line is broken
_TOGETHER: Final = re.compile(
    r"(?<=\d) (?=(?:am|pm|mph|m/s|min|mm|in|ft|m|F|C|h|of 100)\b)|(?<=[A-Z][a-z]{2}) (?=\d)"
)


def broken(text: str, width: float, *, size: float, bold: bool) -> list[str]:
    """Break a text into lines that are no wider than told.

    Parameters
    ----------
    text : str
        The text.
    width : float
        Widest line [in].
    size : float
        Of the type [pt].
    bold : bool
        Whether it is heavy.

    Returns
    -------
    list of str
        The lines; none for no text. A word that is wider is broken anywhere.
    """
    lines: list[str] = []
    for word in _TOGETHER.sub(_KEPT, shown(text)).split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and measured(longer, size=size, bold=bold) <= width:
            lines[-1] = longer
            continue
        lines += _pieces(word, width, size=size, bold=bold)
    return [line.replace(_KEPT, " ") for line in lines if line.strip()]


def _pieces(word: str, width: float, *, size: float, bold: bool) -> list[str]:
    """Break a word that is wider than a line."""
    pieces = [""]
    for letter in word:
        if pieces[-1] and measured(pieces[-1] + letter, size=size, bold=bold) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces


def measured(text: str, *, size: float, bold: bool) -> float:
    """Measure a line of text.

    Parameters
    ----------
    text : str
        The line.
    size : float
        Of the type [pt].
    bold : bool
        Whether it is heavy.

    Returns
    -------
    float
        Its width [in].
    """
    first, *more = text.split(" ")
    wide = _width(first, bold) + sum(_width(f" {word}", bold) for word in more)
    return wide * size * POINT


@lru_cache(maxsize=4096)
def _width(text: str, bold: bool) -> float:
    """Width of a word, with the space before it if it has one, over the type's size [-]."""
    from matplotlib.textpath import text_to_path

    width, _, _ = text_to_path.get_text_width_height_descent(text, face(bold), ismath=False)
    return float(width) / face(bold).get_size_in_points()


@cache
def face(bold: bool) -> FontProperties:
    """Give the type that comes with the drawing library, so that every computer has it."""
    import matplotlib as mpl
    from matplotlib.font_manager import FontProperties

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return FontProperties(fname=Path(mpl.get_data_path()) / "fonts" / "ttf" / name, size=10)


@cache
def _letters() -> frozenset[int]:
    """Give the letters that stand in both weights of the type."""
    from matplotlib.font_manager import get_font

    heavy, light = (get_font(str(face(x).get_file())).get_charmap() for x in (True, False))
    return frozenset(heavy) & frozenset(light)


def shown(text: str) -> str:
    """Keep the letters that can be printed one by one from left to right, spell the others.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        In one line.
    """
    return "".join(
        letter if _printable(letter) else ("?" if letter.isascii() else say.plain(letter))
        for letter in unicodedata.normalize("NFC", " ".join(text.split()))
    )


def _printable(letter: str) -> bool:
    if letter.isascii():
        return letter.isprintable()
    joined = unicodedata.bidirectional(letter) in {"R", "AL", "AN"}
    return (
        unicodedata.category(letter)[0] in "LNPS" and not joined and ord(letter) in _letters()
    )
