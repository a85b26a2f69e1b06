"""Public functions say what each argument is, and numbers say their unit."""

import ast
import re
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "planner"
NUMBERS = re.compile(r"(array_like|float|ndarray)(?! of bool)")


def public_functions():
    """Give every public function of the package with the file it is in."""
    for file in sorted(PACKAGE.rglob("*.py")):
        for node in ast.parse(file.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                yield pytest.param(node, id=f"{file.relative_to(PACKAGE)}:{node.name}")


def parameters(doc: str) -> dict[str, tuple[str, str]]:
    """Give {argument: (type, description)} of a numpydoc text."""
    section = re.search(r"^Parameters\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", doc, re.M | re.S)
    found = {}
    for names, kind, text in re.findall(
        r"^(\w[\w, *]*) : (.*)\n((?:(?:[ ].*)?\n)*)",
        (section.group(1) if section else "") + "\n",
        re.M,
    ):
        for name in names.split(","):
            found[name.strip(" *")] = (kind, text)
    return found


@pytest.mark.parametrize("function", list(public_functions()))
def test_arguments_are_explained(function):
    """Every argument is listed; every number ends with its unit in brackets."""
    doc = ast.get_docstring(function)
    assert doc, "a public function needs a docstring"
    arguments = [a.arg for a in (*function.args.args, *function.args.kwonlyargs)]
    if "Parameters" not in doc:
        one_line = len(doc.splitlines()) == 1
        assert one_line or len(arguments) <= 1, "only a small helper may go without Parameters"
        return
    listed = parameters(doc)
    for argument in arguments:
        assert argument in listed, f"{argument} is not explained"
        kind, text = listed[argument]
        if NUMBERS.search(kind):
            assert re.search(r"\[[^\]]+\]", text), f"{argument} has no unit"
