"""What of a sheet is read: which rows, which model's columns, which parts of a field."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import nearest
from planner.weather.table import COLUMN, Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.file.sheet import Sheet


def sifted(sheet: Sheet, *, model: str | None, notes: list[Note]) -> Sheet:
    """Keep the rows and columns of a sheet that are to be read.

    Parameters
    ----------
    sheet : Sheet
        The table.
    model : str or None
        Which model, where names end in a model's.
    notes : list of Note
        What was left out is added here.

    Returns
    -------
    Sheet
        Its hourly rows, the columns of one model, fields of several values split.

    Raises
    ------
    WeatherError
        If nothing is left, or the model cannot be told.
    """
    sheet = _split_inner(_choose_model(sheet, model, notes))
    sheet = _keep_kinds(sheet, notes)
    _note_filled(sheet, notes)
    _note_unknown(sheet, notes)
    return sheet


def preferred(
    sheet: Sheet, labels: NDArray[np.datetime64], groups: NDArray[np.object_] | None
) -> NDArray[np.bool_] | None:
    """Mark the rows that count where a better kind of report stands in the same hour.

    Parameters
    ----------
    sheet : Sheet
        The table.
    labels : numpy.ndarray of datetime64[ns], shape (rows,)
        The time of each row, which belongs to the hour it closes [UTC].
    groups : numpy.ndarray or None, shape (rows,)
        The place of each row [-].

    Returns
    -------
    numpy.ndarray of bool, shape (rows,), or None
        None where the map prefers no kind, or all rows count.
    """
    rules = sheet.format.layout.get("prefer", {})
    for name, words in rules.items():
        for field in sheet.named(name):
            best = sheet.text(field).isin(words).to_numpy(bool)
            if best.all() or not best.any():
                return None
            hours = -(-labels.astype("datetime64[s]").astype(np.int64) // 3600)
            if groups is not None:
                hours = (
                    hours * (len(set(groups)) + 1) + np.unique(groups, return_inverse=True)[1]
                )
            return np.asarray(best | ~np.isin(hours, hours[best]))
    return None


def _split_inner(sheet: Sheet) -> Sheet:
    """Split fields that hold several values: "WND.3" is the fourth part of WND."""
    mark = sheet.format.layout.get("inner")
    if not mark:
        return sheet
    fields, frame = list(sheet.fields), sheet.frame.copy()
    for name in sorted(sheet.format.known):
        base, _, part = name.rpartition(".")
        for field in sheet.named(base) if part.isdigit() else ():
            at = max(x.at for x in fields) + 1
            frame[at] = sheet.text(field).str.split(mark).str[int(part)]
            fields.append(replace(field, at=at, name=name))
    return replace(sheet, fields=tuple(fields), frame=frame)


def _choose_model(sheet: Sheet, asked: str | None, notes: list[Note]) -> Sheet:
    """Keep the columns of one model where names end in a model's, or an earlier run's."""
    needed = {s.name for s in sheet.format.columns if COLUMN[s.to].needed}
    models = sorted({field.model for field in sheet.fields if field.name in needed})
    now = [model for model in models if not _days_before(sheet, model)]
    if asked is None and models and (len(now) != 1 and "" not in now):
        raise sheet.error(
            f"It holds {len(models)} models or earlier runs: {', '.join(models)}.",
            fix=f"Choose one with --model {models[0]}.",
            key="model",
        )
    if asked is not None and asked not in models:
        named = ", ".join(model for model in models if model)
        near = nearest(asked, models)
        raise sheet.error(
            f'There is no model "{asked}" in the file; it has {named or "one, not named"}.',
            fix=f"Use --model {near[0]}." if near else "Leave --model out.",
            key="model",
        )
    chosen = asked if asked is not None else ("" if "" in now or not now else now[0])
    others = [model for model in models if model and model != chosen]
    if others:
        text = f"Columns of {', '.join(others)} are there too; --model chooses another."
        notes.append(Note(code="other_models", text=text))
    whole = {*sheet.format.time["columns"], sheet.format.layout.get("group")}
    kept = tuple(
        replace(field, model="")
        for field in sheet.fields
        if field.model == chosen or field.name in whole
    )
    return _as_earlier(replace(sheet, fields=kept), _days_before(sheet, chosen), notes)


def _days_before(sheet: Sheet, model: str) -> int:
    """Say how many days before each hour a column was forecast; 0 for the latest run."""
    found = re.fullmatch(sheet.format.layout.get("earlier", "(?!)"), model)
    return int(found.group(1)) if found else 0


def _as_earlier(sheet: Sheet, days: int, notes: list[Note]) -> Sheet:
    """Note that hours were forecast days before, each from another run."""
    if not days:
        return sheet
    text = f"Each hour is what was forecast {days} d before it: not one forecast of today."
    notes.append(Note(code="earlier_run", text=text, doubt=True))
    return replace(sheet, meta={**sheet.meta, "days_before": str(days)})


def _keep_kinds(sheet: Sheet, notes: list[Note]) -> Sheet:
    """Leave out rows of a kind that the map does not keep, such as sums of days."""
    for name, words in sheet.format.layout.get("keep", {}).items():
        for field in sheet.named(name):
            kinds = sheet.text(field)
            kept = kinds.isin(words).to_numpy(bool)
            if kept.all():
                continue
            others = ", ".join(sorted(set(kinds[~kept]))[:6])
            if not kept.any():
                raise sheet.error(
                    f"All its rows are {others}; hourly ones are {', '.join(words)}.",
                    fix="Download the hourly data.",
                    key=name,
                )
            text = f"{(~kept).sum():,} rows of another kind ({others}) were left out."
            notes.append(Note(code="other_rows", text=text))
            sheet = sheet.take(kept)
    return sheet


def _note_filled(sheet: Sheet, notes: list[Note]) -> None:
    """Note how many numbers of a record come from a model, where the file says so."""
    ending = str(sheet.format.layout.get("filled", ""))
    words = "|".join(sheet.format.layout.get("by_model", ()))
    told = []
    for source in sheet.format.columns if ending else ():
        for field in sheet.named(f"{source.name}{ending}"):
            said = sheet.text(field)
            count = int(said.str.contains(words).sum())
            if count:
                told.append(f"{count:,} of {len(said):,} of {source.name}")
    if told:
        text = f"Filled from a model, not measured: {', '.join(told)}."
        notes.append(Note(code="model_filled", text=text, doubt=True))


def _note_unknown(sheet: Sheet, notes: list[Note]) -> None:
    """Note columns that a format without other columns cannot have."""
    if not sheet.format.layout.get("all_known"):
        return
    known = sheet.format.known
    for field in sheet.fields:
        if field.name not in known:
            near = nearest(field.name, known)
            hint = f' Did you mean "{near[0]}"?' if near else ""
            text = f'The column "{field.name}" is not known and was not read.{hint}'
            notes.append(Note(code="unknown_column", text=text, doubt=bool(near)))
