"""Desks, the plans kept for them, and names of files."""

import threading
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.errors import PlannerError, UsageError, WeatherError
from planner.web.desk import Desk, Desks, Lying
from planner.web.made import Kept
from planner.web.saving import download_name, save_job
from planner.web.uploaded import plain_name, read_given
from tests.web.made_app import WEATHER


def test_the_desk_untouched_for_longest_makes_room():
    """Three desks where two have room."""
    desks = Desks(Lying(job="start"), most=2)
    first, second = desks.of("a"), desks.of("b")
    assert first.change_job("mine", drawn_from=first.lying.mark)
    assert desks.of("a") is first
    desks.of("c")
    assert desks.of("a") is first
    assert desks.of("b") is not second
    assert desks.of("b").lying.job == "start"


def test_of_two_who_change_at_once_one_is_told():
    """Many threads send forms drawn from the same text; exactly one is taken."""
    desk = Desk(Lying(job="start"))
    drawn, taken = desk.lying.mark, []
    go = threading.Barrier(8)

    def send(at):
        go.wait()
        taken.append(desk.change_job(f"job {at}", drawn_from=drawn))

    threads = [threading.Thread(target=send, args=(at,)) for at in range(8)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sum(taken) == 1
    assert desk.lying.before == "start"


def test_a_result_is_made_once_for_all_who_ask():
    """Ten ask while it is being made; an error is told to all, and not kept."""
    kept, made, go = Kept(most=2), [], threading.Barrier(10)

    def make():
        made.append(1)
        return object()

    found = []

    def ask():
        go.wait()
        found.append(kept.get("plan", make))

    threads = [threading.Thread(target=ask) for _ in range(10)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert (len(made), len(set(map(id, found)))) == (1, 1)

    def fails():
        raise PlannerError("no")

    for _ in range(2):
        with pytest.raises(PlannerError):
            kept.get("other", fails)
    for key in "abc":
        kept.get(key, make)
    kept.get("plan", make)
    assert len(made) == 5


@given(st.text(max_size=200))
def test_names_of_downloads_are_plain(name):
    """Whatever a job is called, its file has letters that every computer takes."""
    file = download_name(name, ".toml")
    assert file.isascii()
    assert file.removesuffix(".toml").replace("-", "a").isalnum()
    assert file.split(".")[0] not in {"con", "nul", "aux", "prn"}
    assert len(file) <= 70


@given(st.text(max_size=200))
def test_names_of_uploads_are_no_paths(name):
    """A name is only ever that of a file in one folder."""
    plain = plain_name(name)
    assert Path("folder", plain).resolve().parent == Path("folder").resolve()
    assert "\0" not in plain
    assert plain.isascii()


@pytest.mark.parametrize(
    "name",
    ["", " ", "a/b.toml", "..\\b.toml", "/b.toml", ".b.toml", "b", "b.csv", "b.toml.",
     "con.toml", "b:c.toml", "b\n.toml", "b\0.toml", "x" * 90 + ".toml", ".toml",
     "..toml", "~/b.toml"],
)  # fmt: skip
def test_what_is_no_name_of_a_job_file(tmp_path, name):
    """It is refused in words, and nothing is written."""
    with pytest.raises(UsageError) as caught:
        save_job("x", name, tmp_path, replace=True)
    assert caught.value.fix
    assert list(tmp_path.iterdir()) == []


def test_a_folder_of_that_name_stays(tmp_path):
    """Even with the box ticked."""
    (tmp_path / "a.toml").mkdir()
    with pytest.raises(UsageError, match="folder"):
        save_job("x", "a.toml", tmp_path, replace=True)


def test_an_upload_leaves_nothing_behind(tmp_path, monkeypatch):
    """Read or refused, no copy stays on the disk, and no message tells where it was."""
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    latin = WEATHER.replace(b"# credit: Invented", b"# credit: S\xfcd, invented")
    read = read_given(latin, "C:\\files\\mine.csv", {"zone": " "})
    assert (read.name, read.options) == ("mine.csv", {})
    assert any(x.text.startswith("mine.csv is not UTF-8") for x in read.weather.notes)
    with pytest.raises(WeatherError) as caught:
        read_given(b"nothing", "mine.csv", {})
    assert str(tmp_path) not in f"{caught.value}"
    assert list(tmp_path.iterdir()) == []
    assert read.mark != read_given(latin, "mine.csv", {"label": "end"}).mark
