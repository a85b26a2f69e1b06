"""Reading job files: what is accepted, what is refused, and how it is said."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.errors import JobError
from planner.job.jobfile import parse_job, read_job
from planner.job.records import Job, TypedLimit
from planner.job.schema import KEYS
from planner.reference.tables import value

if TYPE_CHECKING:
    from pathlib import Path

SAME = 1e-9  # the same number typed in two units

SHORT = """\
name = "Heron Bend house 3"
finish_by = 2026-05-09
[place]
latitude = 43.9
longitude = -91.6
[house]
width = "30 ft"
length = "96 ft"
[film]
thickness = "6 mil"
[crew]
people = 5
"""

LONG = """\
name = "Heron Bend house 3"
finish_by = 2026-05-09
starts_every = "60 min"
contact = "grower@example.org"
[place]
latitude = 43.9
longitude = -91.6
elevation = "820 ft"
time_zone = "America/Chicago"
ground = "wooded"
gust_at_sheet = 0.6
overhead_line = true
[house]
profile = "gothic"
width = "30 ft"
length = "30 ft 6 in"
leg = "2 ft"
ridge = "18 ft"
radius = "17 ft"
hip = "4 ft"
bow_spacing = "4 ft"
frame = "wood"
braced = false
channel_holds = "60 lbf/ft"
[film]
thickness = "6 mil"
layers = 2
kind = "infrared"
sides = "one-piece"
stress_free = "72 F"
inflation = "0.25 in w.c."
[crew]
people = 6
hold = "34 lbf"
pace = 1.6
start = "6:30 am"
stop = "20:00"
days_off = [2026-05-03, "sunday"]
used_to_heat = true
[stakes]
sheet_lost = 2000
deadline_missed = 600
day_waited = 50
sent_home = 300
lost_when = "a limit is passed"
money = "kr"
[limits]
rain = "0 mm"
air = ["41 F", "off"]
film = ["41 F", "113 F"]
film_swing = "14 F"
wet = "damp"
light = "5 fc"
sun = "0 deg"
heat = "work it out"
chill = "14 F"
thunder_wait = "45 min"
gust = "work it out"
mean = "off"
gust_ceiling = "26 mph"
[limits."roof sheet"]
wet = "dry"
[limits."roof sheet"."pull over"]
gust = "4 mph"
[steps."end wall north"]
done = true
[steps."roof sheet"]
sheet = "roof"
after = ["end wall north"]
nights_after = 1
skip = false
[steps."roof sheet".phases."pull over"]
time = "20 min"
hands = 5
loose = 0.6
drag = 0.5
height = "12 ft"
leave_gust = "no"
[steps."roof sheet".phases."lay out"]
leave_gust = "6 m/s"
"""


def changed(*swaps: tuple[str, str], add: str = "") -> str:
    """Give the short job file with pieces of it swapped and lines added at its end."""
    text = SHORT
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new)
    return text + add


def test_a_dozen_lines_are_enough() -> None:
    """The short file gives a whole job: the defaults are those of the trade pages."""
    job = parse_job(SHORT, file="job.toml")
    assert job.place.time_zone == "America/Chicago"
    assert job.house.width == pytest.approx(9.144, rel=SAME)
    assert job.house.ridge == pytest.approx(job.house.width / 2, rel=SAME)
    assert job.house.hip == pytest.approx(1.2192, rel=SAME)
    assert job.film.thickness == pytest.approx(152.4e-6, rel=SAME)
    assert (job.film.layers, job.film.stress_free, job.film.inflation) == (1, 35.0, 0.0)
    assert (job.crew.hold, job.crew.pace) == (150.0, 1.3)
    assert (job.crew.start, job.crew.stop) == ("first light", "last light")
    assert (job.starts_every, job.thunder_wait, job.limits) == (15, 30.0, ())
    assert (job.units, job.file) == ("us", "job.toml")


def test_what_was_assumed_is_said_in_the_units_of_the_file() -> None:
    """Defaults that matter are listed, in feet where the house is in feet."""
    assert {"ridge 15 ft", "channel at 4 ft", "pace 1.3", "ground open"} <= set(
        parse_job(SHORT).assumed
    )
    metric = changed(('"30 ft"', '"9 m"'), ('"96 ft"', '"29 m"'), ('"6 mil"', '"150 um"'))
    assert {"ridge 4.5 m", "each holds 150 N"} <= set(parse_job(metric).assumed)
    assert not [words for words in parse_job(LONG).assumed if "ridge" in words]


def test_every_key_is_read() -> None:
    """A file that uses every key is read, each value in the planner's own unit."""
    job = parse_job(LONG)
    assert job.finish_by == dt.date(2026, 5, 9)
    assert job.place.elevation == pytest.approx(249.936, rel=SAME)
    assert (job.place.ground, job.place.gust_at_sheet) == ("wooded", 0.6)
    assert job.place.overhead_line
    assert job.house.length == pytest.approx(9.2964, rel=SAME)
    assert job.house.radius == pytest.approx(5.1816, rel=SAME)
    assert job.house.channel_holds == pytest.approx(875.6, abs=0.1)
    assert (job.house.frame, job.house.braced) == ("wood", False)
    assert job.film.inflation == pytest.approx(62.3, abs=0.1)
    assert job.film.stress_free == pytest.approx(22.2, abs=0.1)
    assert (job.crew.start, job.crew.stop) == (390, 1200)
    assert job.crew.days_off == (dt.date(2026, 5, 3), "Sunday")
    assert job.crew.used_to_heat
    assert (job.stakes.sheet_lost, job.stakes.money) == (2000.0, "kr")
    assert (job.starts_every, job.thunder_wait) == (60, 45.0)
    assert (job.contact, parse_job(SHORT).contact) == ("grower@example.org", "")


def test_limits_keep_their_place() -> None:
    """A typed limit is kept with its step and phase, its side, and its line."""
    found = {(x.quantity, x.step, x.phase): x for x in parse_job(LONG).limits}
    assert found["rain", "", ""].high == 0.0
    assert found["air", "", ""] == TypedLimit(quantity="air", low=5.0, high=None)
    assert found["film_swing", "", ""].high == pytest.approx(14 / 1.8)
    assert found["light", "", ""].low == pytest.approx(53.8, abs=0.1)
    assert found["chill", "", ""].low == pytest.approx(-10.0)
    assert found["mean", "", ""].off
    assert found["heat", "", ""].word == "work it out"
    assert found["wet", "roof sheet", ""].word == "dry"
    tight = found["gust", "roof sheet", "pull over"]
    assert tight.high == pytest.approx(1.78816)
    assert LONG.splitlines()[(tight.line or 0) - 1] == 'gust = "4 mph"'
    assert len(found) == len(parse_job(LONG).limits)


def test_patches_keep_the_order_of_the_file() -> None:
    """What the file says about steps is kept as said, in its order, unsaid things as None."""
    wall, roof = parse_job(LONG).step_patches
    assert (wall.name, wall.done, wall.skip) == ("end wall north", True, None)
    assert (roof.after, roof.nights_after, roof.skip) == (("end wall north",), 1, False)
    over, lay = roof.phases
    assert (over.name, over.minutes, over.hands, over.leave_gust) == (
        "pull over",
        20.0,
        5,
        "no",
    )
    assert (lay.minutes, lay.leave_gust) == (None, 6.0)


def test_metric_and_us_files_give_the_same_job() -> None:
    """The same house typed in metres and in feet is the same house."""
    metric = changed(
        ('"30 ft"', '"9.144 m"'), ('"96 ft"', '"29.2608 m"'), ('"6 mil"', '"152.4 um"')
    )
    us, si = parse_job(SHORT), parse_job(metric)
    assert (us.units, si.units) == ("us", "si")
    for name in ("width", "length", "ridge", "hip", "bow_spacing"):
        assert getattr(us.house, name) == pytest.approx(getattr(si.house, name), rel=SAME)
    assert us.film.thickness == pytest.approx(si.film.thickness, rel=SAME)
    assert us.crew == si.crew


def test_two_layers_have_their_own_defaults() -> None:
    """Two layers are locked for a cooler film and are inflated by a quarter inch of water."""
    film = parse_job(changed(("[crew]", "layers = 2\n[crew]"))).film
    assert film.stress_free == 22.0
    assert film.inflation == pytest.approx(62.3, abs=0.1)


def test_a_missing_thunder_wait_is_half_an_hour() -> None:
    """Switched off, the wait keeps its default; typed for one step only, it is refused."""
    off = parse_job(changed(add='[limits]\nthunder_wait = "off"\n'))
    with pytest.raises(JobError, match="whole job"):
        parse_job(changed(add='[limits."roof sheet"]\nthunder_wait = "60 min"\n'))
    assert off.limits[0].off
    assert off.thunder_wait == value("work_rules", "thunder_wait")


def test_every_table_of_the_file_is_tried() -> None:
    """The long file has every key that the schema knows, so that no key goes untested."""
    used = tomlkit.parse(LONG).unwrap()
    for path, keys in KEYS.items():
        tables = [used]
        for part in path:
            inner = [table.get(part) for table in tables]
            if part == "*":
                inner = [one for table in tables for one in table.values()]
            tables = [one for one in inner if isinstance(one, dict)]
        seen = {key for table in tables for key in table}
        if path[:1] != ("limits",) or path == ("limits",):
            assert set(keys) <= seen, path


def test_missing_binary_and_unreadable_files(tmp_path: Path) -> None:
    """A file that is not there, is a folder, or is no text is refused by name."""
    binary = tmp_path / "job.toml"
    binary.write_bytes(b"\x80\xff\x00PK")
    for path, message in (
        (tmp_path / "none.toml", "no such job file"),
        (binary, "not a text file"),
        (tmp_path, "cannot be read"),
    ):
        with pytest.raises(JobError, match=message) as caught:
            read_job(path)
        assert caught.value.file == str(path)
        assert caught.value.fix


def test_windows_line_ends_and_byte_order_marks(tmp_path: Path) -> None:
    """A file saved by a Windows editor is the same job."""
    path = tmp_path / "job.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SHORT.replace("\n", "\r\n").encode())
    assert replace(read_job(path), file="") == parse_job(SHORT)


WORDS = st.one_of(
    st.sampled_from(sorted({key for keys in KEYS.values() for key in keys})),
    st.sampled_from(["roof sheet", "pull over", "trim", "", "a b", "é", '"', "\\"]),
)
VALUES = st.recursive(
    st.one_of(
        st.sampled_from(
            ["30 ft", "9 m", "6 mil", "5 mph", "41 F", "off", "round", "first light"]
        ),
        st.sampled_from(["150 N", "1/0 in", "9" * 400 + " m", "-5 ft", "UTC", "../x", "dry"]),
        st.text(max_size=8),
        st.integers(-(2**63), 2**63 - 1),
        st.integers(-3, 40),
        st.floats(),
        st.booleans(),
        st.dates(),
        st.datetimes(),
        st.times(),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(WORDS, inner, max_size=4)
    ),
    max_leaves=12,
)


def read_or_refuse(text: str) -> Job | None:
    """Read a text; a refusal must be a JobError with something to say."""
    try:
        return parse_job(text, file="job.toml")
    except JobError as error:
        refusal = error
    assert refusal.message
    assert refusal.fix
    assert refusal.file == "job.toml"
    return None


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.dictionaries(WORDS, VALUES, max_size=6), st.booleans())
def test_garbage_is_refused_and_never_breaks(garbage: dict[str, object], whole: bool) -> None:
    """Whatever stands in a TOML file, it is a job or a JobError, never another error."""
    table = tomlkit.parse(SHORT).unwrap() if whole else {}
    for key, entry in garbage.items():
        if isinstance(entry, dict) and isinstance(table.get(key), dict):
            table[key] = {**table[key], **entry}
        else:
            table[key] = entry
    try:
        text = tomlkit.dumps(table)
    except (ValueError, TypeError):
        return
    job = read_or_refuse(text)
    if job is not None:
        assert math.isfinite(job.house.ridge)
        assert 1 <= job.crew.people <= 30


@settings(max_examples=200, deadline=None)
@given(st.integers(0, len(LONG)), st.integers(0, 12), st.text(max_size=6))
def test_a_damaged_file_never_breaks(at: int, gone: int, put: str) -> None:
    """A long job file with a piece cut out or scribbled over is a job or a JobError."""
    read_or_refuse(LONG[:at] + put + LONG[at + gone :])


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=60))
def test_any_text_never_breaks(text: str) -> None:
    """Any text at all is a job or a JobError."""
    read_or_refuse(text)


def test_absurd_nesting_and_numbers_are_refused() -> None:
    """Tables nested past sense and numbers of thousands of digits are refused calmly."""
    for text in ("a = " + "[" * 5000, "people = " + "9" * 5000, "a = 0x" + "f" * 9000):
        with pytest.raises(JobError):
            parse_job(text)
    with pytest.raises(JobError, match="many digits"):
        parse_job(changed(("people = 5", "people = 0x" + "f" * 5000)))
