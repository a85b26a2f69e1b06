"""What is wrong in a job file is said with its file, line, key and the way out."""

from __future__ import annotations

import pytest

from planner.errors import JobError
from planner.job.complaints import JobText, key_text
from planner.job.jobfile import parse_job

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


def changed(*swaps: tuple[str, str], add: str = "") -> str:
    """Give the short job file with pieces of it swapped and lines added at its end."""
    text = SHORT
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new)
    return text + add


# What is wrong -> (text of the file, line, key, words of the message, words of the way out).
WRONG = {
    "no name": (
        changed(('name = "Heron Bend house 3"\n', "")),
        None,
        "name",
        "missing",
        "Write",
    ),
    "no latitude": (
        changed(("latitude = 43.9\n", "")),
        3,
        "place.latitude",
        "missing",
        "north positive",
    ),
    "no place": (
        changed(("[place]\nlatitude = 43.9\nlongitude = -91.6\n", "")),
        None,
        "place",
        "missing",
        "[place]",
    ),
    "no width": (changed(('width = "30 ft"\n', "")), 6, "house.width", "missing", "Write"),
    "no length": (changed(('length = "96 ft"\n', "")), 6, "house.length", "missing", "Write"),
    "no people": (changed(("people = 5\n", "")), 11, "crew.people", "missing", "Write"),
    "misspelt key": (
        changed(("width", "widht")),
        7,
        "house.widht",
        "not a key of [house]",
        "width",
    ),
    "misspelt table": (changed(("[house]", "[hose]")), 6, "hose", "not a key", "house"),
    "key in the wrong table": (
        changed(("[film]", "[film]\ntime_zone = 'UTC'")),
        10,
        "film.time_zone",
        "not a key of [film]",
        "[place]",
    ),
    "top key in a table": (
        changed(("[film]", "[film]\nfinish_by = 2026-05-01")),
        10,
        "film.finish_by",
        "not a key of [film]",
        "above the first",
    ),
    "deep unknown key": (
        changed(add='[steps."roof sheet".phases."pull over"]\nhnds = 3\n'),
        14,
        'steps."roof sheet".phases."pull over".hnds',
        "not a key",
        "hands",
    ),
    "deep unknown limit": (
        changed(add='[limits."roof sheet"."pull over"]\ngsut = "3 m/s"\n'),
        14,
        'limits."roof sheet"."pull over".gsut',
        "not a key",
        "gust",
    ),
    "bare number": (changed(('"30 ft"', "30")), 7, "house.width", "has no unit", '"30 ft"'),
    "bare number in quotes": (
        changed(('"30 ft"', '"30"')),
        7,
        "house.width",
        "no unit",
        "30 ft",
    ),
    "no quotes": (changed(('"30 ft"', "30 ft")), 7, "width", "not valid TOML", "quotes"),
    "unit of another kind": (
        changed(('"30 ft"', '"30 mph"')),
        7,
        "house.width",
        "not a unit of length",
        "ft",
    ),
    "inches for feet": (
        changed(('"30 ft"', '"30 in"')),
        7,
        "house.width",
        "between 6.6 ft and 65.6 ft",
        "unit",
    ),
    "mm for mil": (
        changed(('"6 mil"', '"6 mm"')),
        10,
        "film.thickness",
        "50 and 500 um",
        'mean "6 mil"',
    ),
    "mil for um": (
        changed(('"6 mil"', '"150 mil"')),
        10,
        "film.thickness",
        "50 and 500 um",
        'mean "150 um"',
    ),
    "length too long": (changed(('"96 ft"', '"960 ft"')), 8, "house.length", "492", "Check"),
    "nobody": (changed(("people = 5", "people = 0")), 12, "crew.people", "1 and 30", "Check"),
    "people in quotes": (
        changed(("people = 5", 'people = "5"')),
        12,
        "crew.people",
        "not a whole number",
        "quotes",
    ),
    "latitude and longitude swapped": (
        changed(("43.9", "-91.6"), ("-91.6\nlongitude", "-191.6\nlongitude")),
        4,
        "place.latitude",
        "between -90 and 90",
        "wrong way round",
    ),
    "at sea": (
        changed(("-91.6", "-31.6")),
        5,
        "place.longitude",
        "at sea",
        "time_zone",
    ),
    "unknown time zone": (
        changed(("[house]", 'time_zone = "America/Chcago"\n[house]')),
        6,
        "place.time_zone",
        "not a time zone",
        "America/Chicago",
    ),
    "date in quotes": (
        changed(("2026-05-09", '"May 9"')),
        2,
        "finish_by",
        "not a date",
        "2026-05-09",
    ),
    "day that does not exist": (
        changed(("2026-05-09", "2026-02-30")),
        2,
        "finish_by",
        "not valid TOML",
        "day that exists",
    ),
    "moment for a date": (
        changed(("2026-05-09", "2026-05-09T06:00:00")),
        2,
        "finish_by",
        "not a date",
        "2026-05-09",
    ),
    "doubled key": (
        changed(('width = "30 ft"', 'width = "30 ft"\nwidth = "9 m"')),
        8,
        "width",
        "not valid TOML",
        "only once",
    ),
    "unknown profile": (
        changed(("[house]", '[house]\nprofile = "gothik"')),
        7,
        "house.profile",
        "not a choice",
        "gothic",
    ),
    "gothic without ridge": (
        changed(("[house]", '[house]\nprofile = "gothic"')),
        6,
        "house.ridge",
        "missing",
        "ridge =",
    ),
    "round with radius": (
        changed(("[house]", '[house]\nradius = "17 ft"')),
        7,
        "house.radius",
        "gothic",
        "Take it out",
    ),
    "hip above ridge": (
        changed(("[house]", '[house]\nridge = "8 ft"\nhip = "9 ft"')),
        8,
        "house.hip",
        "not below the ridge",
        "height of the channel",
    ),
    "leg up to the ridge": (
        changed(("[house]", '[house]\nridge = "8 ft"\nleg = "8 ft"')),
        8,
        "house.leg",
        "reaches the ridge",
        "straight part",
    ),
    "bows wider apart than the house": (
        changed(('"96 ft"', '"10 ft"'), ("[film]", 'bow_spacing = "11 ft"\n[film]')),
        9,
        "house.bow_spacing",
        "wider apart",
        "Check",
    ),
    "three layers": (
        changed(("[crew]", "layers = 3\n[crew]")),
        11,
        "film.layers",
        "not a choice",
        "1 or 2",
    ),
    "layers true": (
        changed(("[crew]", "layers = true\n[crew]")),
        11,
        "film.layers",
        "true is not a choice",
        "1 or 2",
    ),
    "pace": (changed(add="pace = 9\n"), 13, "crew.pace", "0.5 and 3", "Check"),
    "no such time": (changed(add='start = "25:00"\n'), 13, "crew.start", "time of day", "6:30"),
    "time without am": (changed(add='start = "6"\n'), 13, "crew.start", "time of day", "6:30"),
    "stop before start": (
        changed(add='start = "6:30 pm"\nstop = "8 am"\n'),
        14,
        "crew.stop",
        "before it starts",
        "one day",
    ),
    "no such weekday": (
        changed(add='days_off = ["Sundy"]\n'),
        13,
        "crew.days_off",
        "day of the week",
        "Sunday",
    ),
    "starts every ten minutes": (
        changed(("[place]", 'starts_every = "20 min"\n[place]')),
        3,
        "starts_every",
        "quarter",
        "15 min",
    ),
    "stakes below nothing": (
        changed(add="[stakes]\nsheet_lost = -5\n"),
        14,
        "stakes.sheet_lost",
        "-5 must lie",
        "Check",
    ),
    "limit of the wrong kind": (
        changed(add='[limits]\nrain = "5 mph"\n'),
        14,
        "limits.rain",
        "not a unit of rain",
        "mm",
    ),
    "limit word": (
        changed(add='[limits]\ngust = "calm"\n'),
        14,
        "limits.gust",
        "cannot be read",
        "work it out",
    ),
    "pair the wrong way round": (
        changed(add='[limits]\nair = ["35 C", "5 C"]\n'),
        14,
        "limits.air",
        "nothing between",
        "lower",
    ),
    "one bound for a pair": (
        changed(add='[limits]\nair = "35 C"\n'),
        14,
        "limits.air",
        "not a pair",
        "at least",
    ),
    "limit as a table": (
        changed(add='[limits.gust]\nhigh = "3 m/s"\n'),
        13,
        "limits.gust",
        "not a table",
        "gust =",
    ),
    "limit tables too deep": (
        changed(add='[limits."roof sheet"."pull over".gusts]\nx = 1\n'),
        13,
        'limits."roof sheet"."pull over".gusts',
        "not a key",
        "gust",
    ),
    "step without a name": (
        changed(add='[limits.""]\nwet = "dry"\n'),
        13,
        'limits.""',
        "not a key",
        "wet",
    ),
    "more hands than people": (
        changed(add='[steps."roof sheet".phases."pull over"]\nhands = 9\n'),
        14,
        'steps."roof sheet".phases."pull over".hands',
        "more than the crew of 5",
        "fewer",
    ),
    "share above one": (
        changed(add='[steps."roof sheet".phases."pull over"]\nloose = 60\n'),
        14,
        'steps."roof sheet".phases."pull over".loose',
        "between 0 and 1",
        "Check",
    ),
    "yes for true": (
        changed(add='[steps.trim]\nskip = "yes"\n'),
        14,
        "steps.trim.skip",
        "neither true nor false",
        "true",
    ),
    "value for a table": (
        changed(("[place]\nlatitude = 43.9\nlongitude = -91.6\n", "place = 3\n")),
        3,
        "place",
        "must be a table",
        "[place]",
    ),
    "not a number": (
        changed(("43.9", "nan")),
        4,
        "place.latitude",
        "nan must lie",
        "wrong way",
    ),
    "empty": ("  \n", 1, None, "empty", "planner new"),
    "unclosed": (changed(('"30 ft"', '"30 ft')), 7, "width", "not valid TOML", "quotes"),
    "prose": ("Dear crew,\nplease come.\n", 1, None, "not valid TOML", "key = value"),
    "cut short": (changed(add="[ste"), 13, None, "not valid TOML", "table"),
}


@pytest.mark.parametrize("case", WRONG)
def test_refusals_say_where_what_and_how_out(case: str) -> None:
    """Each refusal names file, line and key, says what is wrong, and gives a way out."""
    text, line, key, message, fix = WRONG[case]
    with pytest.raises(JobError) as caught:
        parse_job(text, file="job.toml")
    error = caught.value
    assert (error.file, error.line, error.key) == ("job.toml", line, key)
    assert message in error.message
    assert fix in error.fix
    assert error.exit_code == 2


def test_an_unknown_key_is_told_before_the_key_it_leaves_missing() -> None:
    """A misspelt key is the cause, the missing one the effect: the cause is told."""
    with pytest.raises(JobError, match="widht"):
        parse_job(changed(("width", "widht"), ("people = 5", "people = 500")))


def test_of_several_faults_the_first_in_the_file_is_told() -> None:
    """Faults are mended from the top of the file down."""
    text = changed(("people = 5", "people = 500"), ("43.9", "143.9"))
    with pytest.raises(JobError) as caught:
        parse_job(text)
    assert caught.value.line == 4


def test_lines_are_found_however_a_key_is_written() -> None:
    """Dotted, quoted and spaced keys, and tables made by a longer header, have their line."""
    text = JobText(
        text="a.b = 1\n# c = 2\n[ \"roof sheet\" . phases ]\n  'pull over' = { hands = 3 }\n"
    )
    assert text.line(("a", "b")) == text.line(("a",)) == 1
    assert text.line(("c",)) is None
    assert text.line(("roof sheet",)) == 3
    assert text.line(("roof sheet", "phases", "pull over", "hands")) == 4


def test_keys_are_written_as_toml_writes_them() -> None:
    """Only names that need quotes get them."""
    assert key_text(("limits", "roof sheet", "film_swing")) == 'limits."roof sheet".film_swing'
