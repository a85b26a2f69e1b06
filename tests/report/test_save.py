"""Files of a plan: the suffix decides, and nothing is left half-written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from planner.errors import PlannerError, UsageError
from planner.plan.records import Plan
from planner.report.save import SUFFIXES, check_suffixes, plan_file, write_whole
from tests.report.made_chances import starts_later

BEGINS = {
    ".json": b"{",
    ".html": b"<!doctype html>",
    ".pdf": b"%PDF-",
    ".txt": b"Quillet",
    ".ics": b"BEGIN:VCALENDAR\r\n",
    ".svg": b"<?xml",
    ".png": b"\x89PNG",
}


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_the_suffix_decides(suffix: str) -> None:
    """Every suffix is written, in capitals too, and is what it says it is."""
    plan = starts_later()
    assert plan_file(plan, suffix.upper(), units="us").startswith(BEGINS[suffix])


def test_json_is_the_contract() -> None:
    """What is saved is the record that is printed."""
    saved = json.loads(plan_file(starts_later(), ".json", units="us"))
    assert saved["schema"] == "windows/1"


def test_paper_goes_by_the_units_unless_it_is_named(plan: Plan) -> None:
    """US Letter is 612 x 792 points, A4 595 x 842 (ISO 216: 210 x 297 mm)."""

    def box(units: str, paper: str | None = None) -> bool:
        return b"/MediaBox [ 0 0 612 792 ]" in plan_file(plan, ".pdf", units=units, paper=paper)

    assert box("us")
    assert not box("si")
    assert not box("us", "a4")
    assert box("si", "letter")


def test_an_unknown_suffix_or_folder_is_refused_before_any_work(tmp_path: Path) -> None:
    """With what could be chosen, and the option that it was."""
    with pytest.raises(UsageError, match=r"\.docx") as refused:
        check_suffixes([tmp_path / "plan.docx"], SUFFIXES)
    assert ".html" in (refused.value.fix or "")
    with pytest.raises(UsageError, match="no folder"):
        check_suffixes([tmp_path / "nowhere" / "plan.html"], SUFFIXES)


def test_a_write_that_fails_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk in the middle: the old file is whole, and nothing lies beside it."""
    path = tmp_path / "plan.txt"
    write_whole(path, "old")

    def full(self: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(PlannerError, match="No space left"):
        write_whole(path, "new")
    assert path.read_text() == "old"
    assert [x.name for x in tmp_path.iterdir()] == ["plan.txt"]
