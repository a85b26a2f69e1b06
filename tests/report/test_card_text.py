"""The crew card as text: narrow, plain, and with everything that the printed one has."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.job.jobfile import read_job
from planner.plan.make import make_plan
from planner.plan.records import Plan
from planner.report.card.rows import NO_START, card_rows
from planner.report.card.text import WIDTH, card_text
from planner.report.words import Words, plain
from planner.weather.read import read_weather
from tests.report.made_cards import MADE, NAMES, crowded, current, named

DATA = Path(__file__).parents[2] / "data"
UNITS = ("us", "si")


def flat(text: str) -> str:
    return " ".join(plain(text).split())


def check(plan: Plan, units: str) -> str:
    """At most 72 columns of ASCII with all that the records hold; gives the text."""
    text = card_text(plan, units=units)
    assert text.isascii()
    assert text.endswith("\n")
    assert max(map(len, text.split("\n"))) <= WIDTH
    assert not any(line != line.rstrip() for line in text.split("\n"))
    card = card_rows(plan, Words(units=units, time_zone=plan.time_zone, light=plan.light))
    whole = flat(text)
    for said in (card.house, card.title, *card.said, card.use, *card.cautions, *card.rests):
        assert flat(said) in whole
    if card.work is None:
        assert "stop when you see" not in text
        return text
    for label, clock in card.work.times:
        assert f"{label.upper()} {clock}" in whole
    for stop in card.work.stops:
        assert flat(stop) in whole
    for line in card.work.pull.lines if card.work.pull else ():
        assert " ".join((line.film, *line.pulls, line.check)) in whole
    return text


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("name", MADE)
def test_everything_is_on_it(name: str, units: str) -> None:
    """Each made plan, with its phases in one row each where names are short."""
    plan = current(MADE[name]())
    text = check(plan, units)
    words = Words(units=units, time_zone=plan.time_zone, light=plan.light)
    card = card_rows(plan, words)
    assert (NO_START in text) is (card.work is None and card.answer != "DONE")
    rows = [" ".join(x.split()) for x in text.split("\n")]
    for phase in card.work.phases if card.work else ():
        row = (phase.clock, phase.name, phase.minutes, phase.hands, phase.hand_limit)
        assert any(x.startswith(" ".join(map(str, row))) for x in rows)
        assert all(word in text for word in phase.sign.split())


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("name", NAMES)
def test_any_name_of_a_house(name: str, units: str) -> None:
    """Long ones are wrapped, letters that are not ASCII spelled or marked."""
    plan = named(NAMES[name])
    assert check_name(plan, units) or name == "one word"


def check_name(plan: Plan, units: str) -> bool:
    text = card_text(plan, units=units)
    assert text.isascii()
    assert max(map(len, text.split("\n"))) <= WIDTH
    return flat(plan.job.name) in flat(text)


def test_long_names_of_phases_go_on_below() -> None:
    """Name and sign in their own columns, nothing cut."""
    text = check(crowded(18), "us")
    for number in range(18):
        assert f" lock edge {number} " in text
    words = {w for line in text.split("\n") for w in line.split()}
    assert {"second", "layer,", "north", "side", "umbrella", "flag"} <= words


def test_blanks_to_fill_in() -> None:
    """A line for the caller, one for the measured film, and rows for readings."""
    lines = card_text(named("house"), units="us").split("\n")
    [caller] = [x for x in lines if "Caller" in x]
    [measured] = [x for x in lines if "Measured film" in x]
    assert caller.count("_") >= 20
    assert measured.endswith("____")
    head = next(at for at, x in enumerate(lines) if x.split()[:1] == ["time"])
    assert lines[head].split() == ["time", "gust", "mph", "mean", "mph", "film", "F", "who"]
    rows = [x.split() for x in lines[head + 1 : head + 7]]
    assert all(len(x) == 5 and set("".join(x)) == {"_"} for x in rows)


@pytest.mark.parametrize("units", UNITS)
def test_the_demo(units: str) -> None:
    """A real plan: its clock, its limits in the hand, its pull chart, no word of code."""
    plan = make_plan(
        read_job(DATA / "larkfield.toml"), read_weather(DATA / "forecast.csv"), count=40
    )
    text = check(plan, units)
    assert "mid-bay sag" in text
    assert not {"nan", "inf", "member", "members", "margin"} & set(text.lower().split())
