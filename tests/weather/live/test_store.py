"""The file of earlier answers: broken, locked, on a full disk, in a folder that refuses."""

import datetime as dt
import sqlite3
from contextlib import closing

import pytest

from planner.errors import WeatherError
from planner.weather.live.store import Kept, cache_file
from tests.weather.live.made_line import NOW, anything, http_date, open_line

GOOD = b'{"wind": 3}'


@pytest.fixture
def url(httpserver):
    headers = {"Date": http_date(), "Cache-Control": "max-age=600"}
    httpserver.expect_request("/w").respond_with_data(GOOD, headers=headers)
    return httpserver.url_for("/w")


def get(folder, url, **changed):
    with open_line(folder, **changed) as line:
        return line.get(url, anything)


@pytest.mark.parametrize(
    "broken",
    [b"this is no database" * 200, b"SQLite format 3\0" + b"\xff" * 4000],
    ids=["not one", "damaged"],
)
def test_a_broken_file_is_kept_aside_and_a_new_one_made(tmp_path, url, httpserver, broken):
    file = tmp_path / "weather.sqlite"
    file.write_bytes(broken)
    found = get(tmp_path, url)
    assert found.data == GOOD
    assert [note.code for note in found.notes] == ["cache-broken"]
    [aside] = tmp_path.glob("weather-broken-*.sqlite")
    assert aside.read_bytes() == broken
    assert str(aside) in found.notes[0].text
    again = get(tmp_path, url)
    assert (again.kept, again.notes) == (True, ())
    assert len(httpserver.log) == 1


def test_damage_inside_a_file_is_noticed(tmp_path, url):
    """The head is whole, the pages behind it are not."""
    get(tmp_path, url)
    file = tmp_path / "weather.sqlite"
    data = bytearray(file.read_bytes())
    data[4096:] = b"\x55" * (len(data) - 4096)
    file.write_bytes(data)
    assert get(tmp_path, url).data == GOOD
    assert len(list(tmp_path.glob("weather-broken-*.sqlite"))) == 1


def test_an_answer_that_cannot_be_read_back_counts_as_none(tmp_path, url, httpserver):
    get(tmp_path, url)
    with closing(sqlite3.connect(tmp_path / "weather.sqlite")) as file, file:
        file.execute("UPDATE answers SET answer = '{\"half\": '")
    assert get(tmp_path, url).data == GOOD
    assert len(httpserver.log) == 2


def test_a_locked_file_is_gone_without(tmp_path, url, monkeypatch):
    """Another program writes to it for longer than anybody wants to wait."""
    monkeypatch.setattr(Kept.__init__, "__kwdefaults__", {"wait": 0.1})
    get(tmp_path, url)
    with closing(sqlite3.connect(tmp_path / "weather.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        found = get(tmp_path, url)
        other.execute("ROLLBACK")
    assert found.data == GOOD
    [note] = found.notes
    assert note.code == "cache-off"
    assert "locked" in note.text
    assert not list(tmp_path.glob("weather-broken-*"))


def test_a_full_disk_is_gone_without(tmp_path, url, httpserver, monkeypatch):
    """SQLite's own word for a full disk, from a file that may not grow."""
    get(tmp_path, url)
    plain = Kept.connect

    def full(self):
        file = plain(self)
        pages = file.execute("PRAGMA page_count").fetchone()[0]
        file.execute(f"PRAGMA max_page_count = {pages}")
        return file

    monkeypatch.setattr(Kept, "connect", full)
    large = b"[" + b"1," * 50_000 + b"1]"
    httpserver.expect_request("/large").respond_with_data(large, headers={"Date": http_date()})
    found = get(tmp_path, httpserver.url_for("/large"))
    assert found.data == large
    assert [note.code for note in found.notes] == ["cache-off"]
    assert "full" in found.notes[0].text
    assert get(tmp_path, url, offline=True).data == GOOD
    with closing(sqlite3.connect(tmp_path / "weather.sqlite")) as file:
        assert file.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_folder_that_cannot_be_made_is_gone_without(tmp_path, url):
    (tmp_path / "taken").write_text("a file where a folder should be", encoding="utf-8")
    found = get(tmp_path / "taken", url)
    assert found.data == GOOD
    assert [note.code for note in found.notes] == ["cache-off"]


def test_only_the_last_answers_are_kept(tmp_path, httpserver, monkeypatch):
    monkeypatch.setattr("planner.weather.live.store._MOST", 3)
    headers = {"Date": http_date()}
    for number in range(5):
        httpserver.expect_request(f"/{number}").respond_with_data(GOOD, headers=headers)
        get(tmp_path, httpserver.url_for(f"/{number}"))
    assert get(tmp_path, httpserver.url_for("/4"), offline=True).data == GOOD
    with pytest.raises(WeatherError, match="no copy"):
        get(tmp_path, httpserver.url_for("/1"), offline=True)
    assert len(Kept(tmp_path / "weather.sqlite")) == 3


def test_it_is_a_dictionary(tmp_path, url):
    get(tmp_path, url)
    kept = Kept(tmp_path / "weather.sqlite")
    [key] = kept
    assert kept[key].content == GOOD
    assert kept[key].created_at.tzinfo is not None
    del kept[key]
    assert key not in kept
    with pytest.raises(KeyError):
        del kept[key]
    get(tmp_path, url, now=lambda: NOW + dt.timedelta(days=1))
    kept.clear()
    assert len(kept) == 0


def test_the_file_lies_where_the_user_says_or_the_system(tmp_path):
    assert cache_file(tmp_path) == tmp_path / "weather.sqlite"
    assert cache_file().name == "weather.sqlite"
    assert "planner" in cache_file().parts
