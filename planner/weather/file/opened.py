"""Open one weather file, whatever it is, as a sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, cast

import numpy as np
import pandas as pd

from planner.weather.file.sheet import Sheet
from planner.weather.file.table_text import find_in_text, read_table
from planner.weather.file.text import read_text
from planner.weather.table import Note

if TYPE_CHECKING:
    from pathlib import Path

    from planner.weather.file.text import Raw, Text
    from planner.weather.formats.maps import Format


#: Shapes of a text that are no plain table.
TYPICAL: Final = ("epw", "tmy3")


def read_sheet(
    source: str | Path | Raw, *, named: str | None, location: str | None, notes: list[Note]
) -> Sheet:
    """Open a file, recognise its format and read its table.

    Parameters
    ----------
    source : path or Raw
        The file, plain, .gz or .zip, or the data itself.
    named : str or None
        Name of a format; None recognises it by its content.
    location : str or None
        Which of several places what is said of the whole should speak of.
    notes : list of Note
        What was found is added here.

    Returns
    -------
    Sheet
        The table, in the file's own words and units.

    Raises
    ------
    WeatherError
        If the file cannot be opened, holds no data, or is broken.
    UnknownFormat
        If its format cannot be told.
    """
    text = read_text(source, notes)
    if text.data.lstrip()[:1] in (b"{", b"["):
        from planner.weather.file.answer import read_answer

        return read_answer(text, named=named, location=location, notes=notes)
    match, head = find_in_text(text, named=named)
    if match.format.shape in TYPICAL:
        return _typical(text, match.format, notes)
    return read_table(text, match, head, location=location, notes=notes)


def _typical(text: Text, chosen: Format, notes: list[Note]) -> Sheet:
    """Give a typical year, which comes in the planner's units already."""
    from planner.weather.file.typical import read_typical

    table, meta = read_typical(
        text.decoded(), cast("Literal['epw', 'tmy3']", chosen.shape), text.file
    )
    notes += [
        Note(code=key.partition(".")[2], text=said, doubt=True)
        for key, said in meta.items()
        if key.startswith("note.")
    ]
    frame = table.reset_index(names="time")
    frame["time"] = frame["time"].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
    fields = tuple(chosen.field(at, str(name)) for at, name in enumerate(frame.columns))
    frame.columns = pd.RangeIndex(len(fields))
    return Sheet(
        file=text.file,
        format=chosen,
        fields=fields,
        meta={key: said for key, said in meta.items() if not key.startswith("note.")},
        frame=frame,
        lines=np.arange(1, len(frame) + 1),
        row_word="hour",
    )
