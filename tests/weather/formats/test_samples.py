"""The samples: each is recognised as what it is, by content alone, and its codes are known."""

from __future__ import annotations

import gzip
import zipfile

import pytest

from planner.errors import SeveralIssues, SeveralPlaces, UnknownFormat
from planner.weather.file.text import Raw
from planner.weather.formats.maps import formats
from planner.weather.read import read_weather
from tests.weather.formats.reckoned import SAMPLES

#: Files that go together; all others stand alone and are named as their format.
TOGETHER = {"dwd": tuple(sorted(path.name for path in SAMPLES.glob("dwd_*")))}
#: What each is, where the name does not say.
WHAT = {"archive.csv": "planner"}
#: Formats without a sample: the test of uscrn makes one; `archive` is that of the tests.
WITHOUT = {"uscrn-hourly", "archive"}
ALONE = sorted(path.name for path in SAMPLES.iterdir() if not path.name.startswith("dwd_"))


def read_named(sources, *, name=None):
    """Read a sample, the first of its places or forecasts where it has several."""
    try:
        return read_weather(sources, format=name)
    except SeveralPlaces as several:
        return read_weather(sources, format=name, location=several.places[0])
    except SeveralIssues as several:
        return read_weather(sources, format=name, issued=several.fix.rpartition(" ")[2][:-1])


@pytest.mark.parametrize("name", [*ALONE, *TOGETHER])
def test_recognised_by_content(name):
    """Under a name that says nothing."""
    files = TOGETHER.get(name, (name,))
    raws = [Raw(name="weather", data=(SAMPLES / file).read_bytes()) for file in files]
    weather = read_named(raws)
    assert weather.format == WHAT.get(name, name.partition(".")[0])
    assert "impossible" not in {note.code for note in weather.notes}


def test_every_format_has_a_sample():
    """A map without one is tried by nobody."""
    there = {name.partition(".")[0] for name in ALONE} | set(TOGETHER)
    assert there >= set(formats()) - WITHOUT


@pytest.mark.parametrize(
    "name", ["iem.csv", "nws-grid.json", "ghcnh.psv", "uscrn.txt", "epw.epw"]
)
def test_packed(name, tmp_path):
    """Out of .gz and .zip, whatever else lies in the zip."""
    plain = read_weather(SAMPLES / name)
    (tmp_path / "w.gz").write_bytes(gzip.compress((SAMPLES / name).read_bytes()))
    with zipfile.ZipFile(tmp_path / "w.zip", "w") as box:
        box.write(SAMPLES / name, f"folder/{name}")
        box.writestr("README.txt", "what this is")
    for packed in ("w.gz", "w.zip"):
        again = read_weather(tmp_path / packed)
        assert again.format == plain.format
        assert again.times.equals(plain.times)


@pytest.mark.parametrize("name", sorted(set(formats()) - {"planner"}))
def test_asked_for_another_format(name):
    """Each says what it needs, and what the file is instead."""
    with pytest.raises(UnknownFormat) as caught:
        read_weather(SAMPLES / "planner.csv", format=name)
    assert name in caught.value.message
    assert "starts" in caught.value.message
