"""A file imports only its own room or a lower one, function bodies included."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "planner"
ROOMS = {
    "errors": 0,
    "units": 0,
    "reference": 1,
    "job": 2,
    "weather": 3,
    "site": 3,
    "film": 3,
    "hours": 4,
    "plan": 5,
    "history": 6,
    "report": 7,
    "web": 8,
    "typed": 9,
    "typed_past": 9,
    "history_verbs": 9,
    "serve_verb": 9,
    "fetch_verb": 9,
    "inspect_verb": 9,
    "cli": 9,
    "__main__": 9,
    "__init__": 9,
}
#: Single files that share a room.
TOGETHER = (
    {"errors", "units"},
    {
        *("cli", "__main__", "typed", "typed_past"),
        *("history_verbs", "serve_verb", "fetch_verb", "inspect_verb"),
    },
)
FILES = sorted(PACKAGE.rglob("*.py"))


def room_of(module: str) -> str:
    """Give the room of a dotted module: "planner.film.sail" is in "film"."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else "__init__"


def imported(tree: ast.AST) -> set[str]:
    """Give every module of the package that a syntax tree imports."""
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
    return {name for name in names if name.split(".")[0] == "planner"}


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(PACKAGE)))
def test_imports_stay_in_the_room_or_go_down(file):
    """Weather, site and film do not know each other; nothing imports upwards."""
    own = file.relative_to(PACKAGE).parts[0].removesuffix(".py")
    for module in imported(ast.parse(file.read_text(encoding="utf-8"))):
        room = room_of(module)
        same = room == own or any({room, own} <= files for files in TOGETHER)
        assert same or ROOMS[room] < ROOMS[own], f"{file.name} imports {module}"


def test_every_room_has_its_number():
    """A new room is given a place in the order before anything is put into it."""
    here = {file.relative_to(PACKAGE).parts[0].removesuffix(".py") for file in FILES}
    assert here == set(ROOMS)


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(PACKAGE)))
def test_files_stay_short(file):
    """A file over 400 lines is two files."""
    assert len(file.read_text(encoding="utf-8").splitlines()) <= 400
