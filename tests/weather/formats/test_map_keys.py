"""The maps hold no key that the reader does not know, and no word it would take amiss."""

from __future__ import annotations

import re
import tomllib
from importlib import resources

import pytest

from planner.weather.file.answer import _SHAPES
from planner.weather.file.opened import TYPICAL
from planner.weather.formats import maps, recognise
from planner.weather.hourly.stamps import _PACKED

FOLDER = resources.files("planner.weather").joinpath("formats")
RAW = {
    path.name.removesuffix(".toml"): tomllib.loads(path.read_text(encoding="utf-8"))
    for path in FOLDER.iterdir()
    if path.name.endswith(".toml")
}
ROWS = ("hours", "reports", "parts")
TIMES = ("iso", "iso or unix", "parts")


def told(text, table):
    """The keys that a docstring explains under one table."""
    rows = re.findall(rf"^{table}\.([\w]+(?:, \.\w+)*)", text, re.MULTILINE)
    return {key.strip(".,") for row in rows for key in row.split(", ")}


LAYOUT = told(maps.__doc__, "layout") | {"group_name", "by_model"}
TIME = told(maps.__doc__, "time")
RECOGNISE = set(re.findall(r"^(\w+)  ", recognise.__doc__, re.MULTILINE)) - {"key"}


@pytest.mark.parametrize("name", RAW)
def test_keys_are_known(name):
    """A slip of the pen would be passed over in silence."""
    one = RAW[name]
    assert set(one.get("layout", {})) <= LAYOUT
    assert set(one["time"]) <= TIME
    assert set(one["recognise"]) <= RECOGNISE
    known = set(maps.__doc__.partition("metadata.*")[2].partition("columns.NAME")[0].split())
    assert set(one.get("metadata", {})) <= {word.strip(",") for word in known}


@pytest.mark.parametrize("name", RAW)
def test_words_are_known(name):
    """So would a word for how a file is laid out, or how its times stand."""
    one = maps.formats()[name]
    assert one.shape in ("", *_SHAPES, *TYPICAL)
    assert one.layout.get("rows", "hours") in ROWS
    assert one.time["kind"] in TIMES
    assert set(one.time.get("parts", ())) <= set(_PACKED)
    assert len(one.time.get("parts", ())) in (0, len(one.time["columns"]))


def test_the_docstrings_are_read():
    """Else everything would be a slip, or nothing."""
    assert {"shape", "separator", "rows", "keep", "bad"} <= LAYOUT
    assert {"kind", "columns", "zone", "parts", "reports"} <= TIME
    assert {"columns", "some", "words", "cells", "line", "keys"} == RECOGNISE
