"""What is typed into the form ends in the job file, and the rest of the file stays."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.job.jobfile import parse_job
from planner.job.newfile import new_job_text
from planner.job.schema import KEYS
from planner.web.fields import FIELDS, MORE, NEEDED
from planner.web.job_edit import accepted, as_typed, to_text
from planner.web.step_marks import step_states, with_states
from tests.web.made_app import JOB

ANSWERS = {
    "name": "north tunnel",
    "place.latitude": "44.6",
    "place.longitude": "-93.1",
    "house.width": "30 ft",
    "house.length": "96 ft",
    "film.thickness": "6 mil",
    "crew.people": "4",
}
FULL = """\
# mine
name = "old"  # what we call it
[place]
latitude = 44.02  # by the gate
longitude = -91.40
[house]
width = "20 ft"
length = "48 ft"

# who comes
[crew]
people = 4
days_off = [2026-05-03, "Sunday"]
[limits]
chill = "20 F"  # ours
[limits."roof sheet"."pull over"]
gust = "7 mph"
[steps."end wall north"]
done = true
"""


def test_every_key_of_a_job_file_has_a_field():
    """A key that is added to the job file is added to the form."""
    tables = {(), ("place",), ("house",), ("film",), ("crew",), ("stakes",)}
    keys = {".".join((*path, key)) for path in tables for key in KEYS[path]}
    inside = {path[0] for path in tables if path} | {"limits", "steps"}
    assert set(FIELDS) == keys - inside


def test_a_new_job_is_the_one_that_the_command_writes():
    """The seven answers give the file of ``planner new``."""
    text, errors = to_text(None, ANSWERS)
    assert not errors
    numbers = {"place.latitude": 44.6, "place.longitude": -93.1, "crew.people": 4}
    assert text == new_job_text({**ANSWERS, **numbers})


def test_every_field_reaches_the_job():
    """One value for each field is read back as it was typed, and lands in the record."""
    typed = {
        **ANSWERS,
        "finish_by": "2026-05-20",
        "starts_every": "30 min",
        "contact": "grower@example.org",
        "place.elevation": "870 ft",
        "place.time_zone": "America/Chicago",
        "place.ground": "wooded",
        "place.gust_at_sheet": "0.7",
        "place.overhead_line": "yes",
        "house.profile": "gothic",
        "house.leg": "4 ft",
        "house.ridge": "16 ft",
        "house.radius": "17 ft",
        "house.hip": "4 ft",
        "house.bow_spacing": "4 ft",
        "house.frame": "wood",
        "house.braced": "no",
        "house.channel_holds": "60 lbf/ft",
        "film.layers": "2",
        "film.kind": "infrared",
        "film.sides": "one-piece",
        "film.stress_free": "95 F",
        "film.inflation": "0.25 in w.c.",
        "crew.hold": "30 lbf",
        "crew.pace": "1.3",
        "crew.start": "6:30 am",
        "crew.stop": "last light",
        "crew.days_off": "2026-05-03, Sunday",
        "crew.used_to_heat": "yes",
        "stakes.sheet_lost": "900",
        "stakes.deadline_missed": "0",
        "stakes.day_waited": "100",
        "stakes.sent_home": "250.5",
        "stakes.lost_when": "a limit is passed",
        "stakes.money": "EUR",
    }
    assert set(typed) == set(FIELDS)
    for before in (None, FULL):
        text, errors = to_text(before, typed)
        assert errors == {}
        assert as_typed(text) == typed
        job = parse_job(text)
        assert (job.film.layers, job.place.overhead_line, job.house.braced) == (2, True, False)
        assert job.house.frame == "wood"
        assert job.crew.start == 390
        assert job.stakes.sent_home == 250.5


def test_an_edit_leaves_all_else_as_it_was():
    """One number changes one line; comments, limits and steps stay to the letter."""
    text, errors = to_text(FULL, {**as_typed(FULL), "crew.people": "6"})
    assert not errors
    assert text == FULL.replace("people = 4", "people = 6")
    assert to_text(FULL, as_typed(FULL)) == (FULL, {})


def test_an_added_key_stands_with_its_table():
    """A new key comes behind the last one of its table, before the next one's comment."""
    text, errors = to_text(
        FULL, {**as_typed(FULL), "house.hip": "4 ft", "finish_by": "2026-05-20"}
    )
    assert not errors
    assert 'length = "48 ft"\nhip = "4 ft"\n\n# who comes\n[crew]' in text
    assert tomllib.loads(text)["finish_by"].isoformat() == "2026-05-20"
    back, _ = to_text(text, {**as_typed(text), "house.hip": "", "finish_by": ""})
    assert tomllib.loads(back) == tomllib.loads(FULL)


@pytest.mark.parametrize(
    "before",
    [
        'name = "x"\nplace = {latitude = 44.0, longitude = -93.0}\n'
        'house = {width = "30 ft", length = "96 ft"}\ncrew = {people = 4}\n',
        'name = "x"\nplace.latitude = 44.0\nplace.longitude = -93.0\n'
        'house.width = "30 ft"\nhouse.length = "96 ft"\ncrew.people = 4\n',
    ],
    ids=["inline tables", "dotted keys"],
)
def test_other_ways_to_write_toml(before):
    """A file written another way takes an edit too."""
    typed = {**as_typed(before), "house.hip": "4 ft", "film.thickness": "6 mil"}
    text, errors = to_text(before, {**typed, "house.width": "28 ft"})
    assert not errors
    assert as_typed(text) == {**typed, "house.width": "28 ft"}


def test_all_that_is_wrong_is_said_at_once():
    """Nine fields are wrong in nine ways; nine errors, each with a way out."""
    wrong = {
        "name": "",
        "place.latitude": "44,6",
        "house.width": "30",
        "house.hip": "40 ft",
        "film.thickness": "6 mm",
        "crew.people": "four",
        "crew.days_off": "Sumday",
        "finish_by": "May 9",
        "stakes.sheet_lost": "-1",
    }
    for before in (None, FULL):
        _, errors = to_text(before, {**ANSWERS, **wrong})
        assert set(errors) == set(wrong)
        assert all(error.message and error.fix for error in errors.values())
    assert "point" in errors["place.latitude"].message
    assert "no unit" in errors["house.width"].message


def test_what_is_wrong_elsewhere_in_the_file_is_said_too():
    """A crew smaller than the hands of a phase is no fault of one field."""
    before = FULL + '[steps."roof sheet".phases."pull over"]\nhands = 4\n'
    _, errors = to_text(before, {**as_typed(before), "crew.people": "3"})
    [(key, error)] = errors.items()
    assert key not in FIELDS
    assert "4 hands" in error.message


def test_a_house_that_cannot_stand_is_refused():
    """What only the sizes of the sheets show is said as well."""
    typed = {
        **ANSWERS,
        "house.profile": "gothic",
        "house.ridge": "16 ft",
        "house.radius": "3 ft",
    }
    _, errors = to_text(None, typed)
    assert list(errors) == ["house.width"]
    assert "radius" in errors["house.width"].message


def test_quotes_typed_along_do_no_harm():
    """Examples stand in quotes; somebody types them."""
    text, errors = to_text(None, {**ANSWERS, "house.width": ' "30 ft" '})
    assert not errors
    assert as_typed(text)["house.width"] == "30 ft"


@settings(max_examples=30)
@given(st.dictionaries(st.sampled_from(sorted(FIELDS)), st.text(max_size=12), max_size=6))
def test_whatever_is_typed_gives_a_job_or_errors(typed):
    """No text in any field is more than an error beside it."""
    for before in (None, FULL):
        text, errors = to_text(before, {**ANSWERS, **typed})
        assert errors or parse_job(text)


def test_steps_are_marked_and_marked_back():
    """Each state is written, read back, and leaves the rest alone."""
    states = step_states(JOB)
    assert states["end wall north"] == "done"
    assert (states["roof sheet"], states["strip old film"]) == ("to do", "left out")
    wanted = {
        "end wall north": "to do",
        "roof sheet": "done",
        "strip old film": "to do",
        "trim": "left out",
    }
    text = with_states(JOB, wanted)
    assert step_states(text) == {**states, **wanted}
    assert text.startswith(JOB.split("[steps", maxsplit=1)[0])
    assert step_states(with_states(text, states)) == states
    assert with_states(JOB, {}) == JOB


def test_a_file_from_elsewhere_is_taken_as_it_is():
    """A byte order mark and foreign line ends go; nothing else does."""
    assert accepted("\ufeff" + FULL.replace("\n", "\r\n")) == FULL


def test_every_group_has_a_heading():
    """No field is in two groups, and those needed are among the questions."""
    keys = [x.key for group in MORE.values() for x in group]
    assert len(keys) == len(set(keys))
    assert NEEDED.isdisjoint(keys)
