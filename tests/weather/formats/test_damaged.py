"""Damaged files of every format: a table or a plain refusal, never anything else."""

from __future__ import annotations

import copy
import json

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.errors import WeatherError
from planner.weather.file.text import Raw
from planner.weather.read import read_weather
from tests.weather.formats.reckoned import SAMPLES

ANSWERS = {path.stem: json.loads(path.read_text("utf-8")) for path in SAMPLES.glob("*.json")}
TABLES = {
    path.name: path.read_text("utf-8") for path in SAMPLES.iterdir() if path.suffix != ".json"
}
JUNK = (None, "", "x", "NaN", "9" * 20, "2026-13-45", -1, 1e308, 10**30, True, [], {}, [None])
MARKS = "\t;,.\"'-9eTMs \n\r#|"


def places(tree, path=()):
    """The way to every part of a tree, of long lists to the first parts only."""
    yield path
    if isinstance(tree, dict):
        for key, part in tree.items():
            yield from places(part, (*path, key))
    elif isinstance(tree, list):
        for at, part in enumerate(tree[:3]):
            yield from places(part, (*path, at))


PLACES = {name: [place for place in places(tree) if place] for name, tree in ANSWERS.items()}


def check_read(data):
    """Read it: an error names the file and what to do, a table is whole."""
    try:
        weather = read_weather(Raw(name="damaged", data=data))
    except WeatherError as err:
        told, whole = bool(err.message and err.fix), True
    else:
        told = True
        whole = all(v.shape[1] == weather.hours for v in weather.values.values())
    assert told
    assert whole


@settings(max_examples=200, deadline=None)
@given(data=st.data())
def test_an_answer_with_something_else_in_one_place(data):
    """Another value, or nothing, where the service would have put its own."""
    name = data.draw(st.sampled_from(sorted(ANSWERS)))
    place = data.draw(st.sampled_from(PLACES[name]))
    tree = copy.deepcopy(ANSWERS[name])
    part = tree
    for key in place[:-1]:
        part = part[key]
    if data.draw(st.booleans()):
        del part[place[-1]]
    else:
        part[place[-1]] = data.draw(st.sampled_from(JUNK))
    check_read(json.dumps(tree).encode())


@settings(max_examples=200, deadline=None)
@given(data=st.data())
def test_a_table_with_other_characters_in_it(data):
    """Up to three characters or lines changed, left out or doubled anywhere."""
    text = TABLES[data.draw(st.sampled_from(sorted(TABLES)))]
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(text) - 1))
        match data.draw(st.sampled_from(["set", "put", "cut", "line", "end"])):
            case "set":
                text = text[:at] + data.draw(st.sampled_from(MARKS)) + text[at + 1 :]
            case "put":
                text = text[:at] + data.draw(st.sampled_from(MARKS)) + text[at:]
            case "cut":
                text = text[:at] + text[at + 1 :] or "\n"
            case "line":
                lines = text.splitlines(keepends=True)
                row = at % len(lines)
                text = "".join([*lines[:row], *lines[row + 1 :]]) or "\n"
            case _:
                text = text[: at + 1]
    check_read(text.encode())
