"""The lessons: numbered, whole, without outputs; that they run is a test of its own each."""

import ast
import json
import re
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[1] / "notebooks"
FILES = sorted(FOLDER.glob("*.ipynb"))
LESSONS = pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)


def cells(file, kind=None):
    """Give the cells of a notebook, of one kind or all, each with its text in one piece."""
    found = json.loads(file.read_text(encoding="utf-8"))["cells"]
    return [
        {**cell, "text": "".join(cell["source"])}
        for cell in found
        if kind in (None, cell["cell_type"])
    ]


def test_lessons_are_numbered_from_one():
    """One number each, none left out, and the title has it too."""
    assert FILES
    assert [file.name.split("_")[0] for file in FILES] == [
        str(number + 1) for number in range(len(FILES))
    ]
    for file in FILES:
        title = cells(file)[0]["text"].splitlines()[0]
        number, *words = re.findall(r"\w+", title.lower())
        assert file.stem == "_".join((number, *words))


@LESSONS
def test_every_cell_has_a_name_of_its_own_and_no_output(file):
    """Ids are words and not drawn anew at each save; a run leaves no trace in the file."""
    names = [cell["id"] for cell in cells(file)]
    assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", name) for name in names)
    for cell in cells(file, "code"):
        assert cell["outputs"] == []
        assert cell["execution_count"] is None


@LESSONS
def test_a_lesson_asks_runs_draws_and_goes_on(file):
    """Question and how to run it, then run, picture and what to try next."""
    texts = [cell["text"] for cell in cells(file, "markdown")]
    assert "?*" in texts[0]
    assert "To run it" in texts[0]
    whole = "\n".join(texts)
    places = [whole.find(f"## {head}") for head in ("Run", "Picture", "Try next")]
    assert places == sorted(places)
    assert places[0] > 0


@LESSONS
def test_a_lesson_ends_by_checking_its_own_text(file):
    """The last cell asserts, and numbers in bold in the text stand among what it compares."""
    last = cells(file)[-1]
    assert last["cell_type"] == "code"
    tree = ast.parse(last["text"])
    checks = [node for node in tree.body if isinstance(node, ast.Assert)]
    assert checks
    compared = {
        x.value
        for check in checks
        for x in ast.walk(check)
        if isinstance(x, ast.Constant) and isinstance(x.value, int | float | str)
    }
    prose = "\n".join(cell["text"] for cell in cells(file, "markdown"))
    bold = [int(x) for x in re.findall(r"\*\*(\d+)(?: of 100| %)?\*\*", prose)]
    assert bold
    for number in bold:
        assert number in compared or number / 100 in compared


@LESSONS
def test_a_lesson_stays_at_home(file):
    """No path of one machine, no address, nothing fetched."""
    text = file.read_text(encoding="utf-8")
    assert not re.search(r"/(home|root|tmp|work|Users)/|[A-Z]:\\\\|https?://", text)
    code = "\n".join(
        line
        for cell in cells(file, "code")
        for line in cell["text"].splitlines()
        if not line.startswith("%")
    )
    names = {
        name.split(".")[0]
        for node in ast.walk(ast.parse(code))
        for name in (
            [x.name for x in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else []
        )
    }
    known = {"planner", "numpy", "pandas", "matplotlib"}
    assert names <= known | {"dataclasses", "math", "pathlib", "tempfile"}
