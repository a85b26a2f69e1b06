"""The README's commands are the ones that work, and its output is what they print."""

import re
from pathlib import Path

import pytest

from tests.test_cli import planner

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def block(name):
    """Give the indented block behind a marker comment."""
    found = re.search(rf"<!-- {name} -->\n+((?:    .*\n|\n)+?)\n*<!-- end -->", README)
    assert found, f"README has no block {name}"
    return "\n".join(line.removeprefix("    ") for line in found.group(1).splitlines()).strip()


def test_the_output_is_what_the_command_prints(monkeypatch):
    """The first screen in the README is the one the demo prints today."""
    monkeypatch.chdir(ROOT)
    command = block("main command").split("planner ", 1)[1].split()
    done = planner(*command)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == block("output")


def test_the_test_command_is_the_one_that_ci_runs():
    """One command sets up and passes the tests; the gate takes it from here."""
    assert "-m pytest" in block("test command")
    assert "README.md" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_every_verb_is_named():
    """What the command line can do stands in the README."""
    from planner.cli import cli

    for verb in cli.commands:
        assert f"`planner {verb}" in README


@pytest.mark.parametrize("name", re.findall(r"\]\(((?!http)[^)]+)\)", README))
def test_links_lead_somewhere(name):
    """A file that the README points to is there."""
    assert (ROOT / name).exists()
