"""The command line starts fast: it imports nothing heavy until a verb needs it."""

import subprocess
import sys

import pytest

HEAVY = ("pandas", "numpy", "pvlib", "matplotlib", "pydantic", "scipy")


def heavy_after(code: str) -> list[str]:
    """Run a line of Python on its own and give the heavy packages it loaded."""
    show = f"import sys; {code}; print([m for m in {HEAVY!r} if m in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", show], capture_output=True, text=True, check=True
    )
    return list(ast_list(done.stdout.strip().splitlines()[-1]))


def ast_list(text: str) -> list[str]:
    """Read a printed list of strings."""
    import ast

    return ast.literal_eval(text)


@pytest.mark.parametrize("code", ["import planner", "import planner.cli"])
def test_import_loads_nothing_heavy(code):
    """Importing the package or its command line loads no table or picture library."""
    assert heavy_after(code) == []


def test_reading_a_job_loads_no_pandas():
    """The job room checks with pydantic and needs no table library."""
    assert set(heavy_after("import planner.job.jobfile")) <= {"pydantic"}


def test_the_first_help_is_what_the_command_line_says(monkeypatch, capsys):
    """The text that shows at once is the one that the library would print, word for word."""
    from planner.__main__ import HELP, main
    from planner.cli import cli

    assert (
        cli.get_help(cli.make_context("planner", [], resilient_parsing=True)) == HELP.rstrip()
    )
    for asked in ([], ["-h"], ["--help"]):
        monkeypatch.setattr(sys, "argv", ["planner", *asked])
        main()
        assert capsys.readouterr().out == HELP


def test_the_first_help_loads_no_command_line_library():
    """Asked for help, the command loads neither click nor anything heavy."""
    code = "sys.argv = ['planner', '--help']; from planner.__main__ import main; main()"
    show = f"import sys; {code}; print('click' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", show], capture_output=True, text=True, check=True
    )
    assert done.stdout.endswith("False\n")


def test_package_gives_its_verbs():
    """The four names of the Python interface are there, and no other."""
    import planner

    for name in ("read_job", "read_weather", "make_plan", "show"):
        assert callable(getattr(planner, name))
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = planner.no_such_name
