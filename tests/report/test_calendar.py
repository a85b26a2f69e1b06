"""The calendar file: what a calendar reads back, what rings, what a newer plan replaces."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from dataclasses import replace
from functools import cache

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar, Event

from planner.hours.records import Window
from planner.job.phases import SETS_PULL
from planner.plan.records import Plan
from planner.report.calendar.entries import KINDS
from planner.report.calendar.file import calendar_text, uid
from tests.report import made_chances
from tests.report.conftest import CASES, END_WALL, JOB, ZONE, at, forecast_plan
from tests.report.made_chances import EVENING
from tests.report.test_real_plans import ASKED, a_plan

PLANS = {
    **{f"certain, {name}": lambda x=x: x(forecast_plan()) for name, x in CASES.items()},
    **made_chances.CASES,
}
OF_THE_WINDOW = {"call", "start", "last-start", "down-by"}
HALF_HOUR, TEN_MINUTES = dt.timedelta(minutes=30), dt.timedelta(minutes=10)


@cache
def made(name: str) -> Plan:
    return PLANS[name]()


def read(plan: Plan, units: str = "us") -> dict[str, Event]:
    """Read the file back and give its entries by kind."""
    kinds = {uid(plan.job, kind): kind for kind in KINDS}
    found = Calendar.from_ical(calendar_text(plan, units=units)).walk("VEVENT")
    by_kind = {kinds[str(event["UID"])]: event for event in found}
    assert len(by_kind) == len(found)
    return by_kind


def standing(plan: Plan) -> dict[str, Event]:
    """Give the entries that are not withdrawn."""
    return {kind: x for kind, x in read(plan).items() if x["STATUS"] != "CANCELLED"}


def rings(event: Event) -> list[dt.timedelta]:
    return sorted(-x["TRIGGER"].dt for x in event.walk("VALARM"))


def with_locks(plan: Plan) -> Plan:
    """The same plan, its window with the phase in which the tension is set."""
    window = plan.decision.window
    assert window is not None
    last = replace(window.phases[-1], phase=SETS_PULL)
    window = replace(
        window, phases=(*window.phases[:-1], last), first_night=(80.0, 90.0, 190.0)
    )
    return replace(plan, decision=replace(plan.decision, window=window))


def unfolded(text: str) -> list[str]:
    """Undo the folding of RFC 5545, section 3.1, by its own words."""
    return re.sub(r"\r\n[ \t]", "", text).split("\r\n")


def plain_text(written: str) -> str:
    r"""Undo the escapes of RFC 5545, section 3.3.11: \\, \;, \, and \n."""
    return re.sub(
        r"\\(.)", lambda x: {"n": "\n", "N": "\n"}.get(x.group(1), x.group(1)), written
    )


def check_lines(text: str) -> None:
    """Lines end in CR LF, are at most 75 octets long, and hold no control character."""
    assert text.endswith("END:VCALENDAR\r\n")
    assert not re.search(r"[\x00-\x09\x0b\x0c\x0e-\x1f\x7f-\x9f]|\r(?!\n)|(?<!\r)\n", text)
    assert max(len(line) for line in text.encode("utf-8").split(b"\r\n")) <= 75


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("name", PLANS)
def test_every_plan_is_a_whole_calendar(name: str, units: str) -> None:
    """What RFC 5545 and 5546 ask for is there once; a calendar reads it and writes the same."""
    plan = made(name)
    text = calendar_text(plan, units=units)
    check_lines(text)
    lines = unfolded(text)
    for head in ("VERSION:2.0", "METHOD:PUBLISH", "CALSCALE:GREGORIAN"):
        assert lines.count(head) == 1
    assert sum(line.startswith("PRODID:-//") for line in lines) == 1
    calendar = Calendar.from_ical(text)
    assert calendar.to_ical().decode("utf-8") == text
    for event in calendar.walk("VEVENT"):
        for key in ("UID", "DTSTAMP", "DTSTART", "SEQUENCE", "STATUS", "SUMMARY"):
            assert not isinstance(event[key], list)
        assert event["DTSTAMP"].dt == plan.now
        assert not event.errors
    assert text == calendar_text(plan, units=units)


@pytest.mark.parametrize("name", PLANS)
def test_every_time_is_utc(name: str) -> None:
    """No local time, no time zone to be looked up, nothing before the plan was made."""
    plan = made(name)
    for line in unfolded(calendar_text(plan, units="us")):
        if line.startswith("DT"):
            assert re.fullmatch(r"(DTSTART|DTEND|DTSTAMP):\d{8}T\d{6}Z", line)
    for event in read(plan).values():
        assert event["DTSTART"].dt >= plan.now
        if "DTEND" in event:
            assert event["DTEND"].dt > event["DTSTART"].dt


@pytest.mark.parametrize("name", PLANS)
def test_nobody_is_named_and_nothing_is_private(name: str) -> None:
    """No organizer, no place, no property of a maker's own; the position stays at home."""
    text = calendar_text(made(name), units="us")
    assert not re.search(r"(?m)^(X-|ORGANIZER|ATTENDEE|GEO|LOCATION|CONTACT|URL)", text)
    assert "44.0" not in text
    assert "mailto" not in text.lower()


@pytest.mark.parametrize("name", PLANS)
def test_every_entry_says_how_far_it_may_be_used(name: str) -> None:
    """A caution, the credit of the data, and when it is too old stand in each."""
    plan = replace(made(name), use_until=at("2031-04-29 19:00"))
    for event in read(plan).values():
        said = event["DESCRIPTION"]
        assert "Do not use after Tue Apr 29 7:00 pm CDT, 2031" in said
        assert plan.weather.credit in said
        assert "Trust the meter in your hand" in said
        assert not re.search(r"\b(nan|members?|margin|p90|inf)\b", said, re.IGNORECASE)


def test_a_go_has_everything() -> None:
    """Call at once, the range of starts, the last, be down: certain, and no other look."""
    plan = with_locks(made("go"))
    window, found = plan.decision.window, standing(plan)
    assert window is not None
    assert set(found) == {*OF_THE_WINDOW, "first-night"}
    assert {str(x["STATUS"]) for x in found.values()} == {"CONFIRMED"}
    assert found["call"]["DTSTART"].dt == plan.now
    assert found["start"]["DTSTART"].dt == window.earliest_start
    assert found["start"]["DTEND"].dt == window.latest_start
    assert found["last-start"]["DTSTART"].dt == window.latest_start
    assert found["down-by"]["DTSTART"].dt == window.down_by
    said = found["start"]["DESCRIPTION"]
    for phase in window.phases:
        assert f"{phase.phase}, " in said
    assert "in the hand gusts to 3.6 mph" in said
    assert "at the sheet 4.0, " in said
    assert "Holds in 91 of 100." in said


def test_alarms_ring_before_the_last_start_and_before_being_down() -> None:
    """Half an hour before them and the first start, and ten minutes before being down."""
    found = standing(made("go"))
    assert rings(found["last-start"]) == [HALF_HOUR]
    assert rings(found["down-by"]) == [TEN_MINUTES, HALF_HOUR]
    assert rings(found["start"]) == [HALF_HOUR]
    for event in found.values():
        for alarm in event.walk("VALARM"):
            assert alarm["ACTION"] == "DISPLAY"
            assert alarm["DESCRIPTION"].endswith(event["SUMMARY"])


def test_a_hold_says_so_in_every_title() -> None:
    """Tentative, and the title says to look again first; looking again is certain and rings."""
    found = standing(with_locks(made("called")))
    assert set(found) == {*OF_THE_WINDOW, "first-night", "look-again"}
    again = found.pop("look-again")
    assert again["STATUS"] == "CONFIRMED"
    assert again["DTSTART"].dt == EVENING
    assert rings(again) == [dt.timedelta()]
    for event in found.values():
        assert event["STATUS"] == "TENTATIVE"
        assert "(hold: look again first)" in event["SUMMARY"]


@pytest.mark.parametrize("name", ["waiting costs less", "low chance", "too windy after"])
def test_a_window_that_is_over_when_it_is_looked_at_again_is_left_out(name: str) -> None:
    """Today is not to be gone and tonight is looked again: no start of today stands."""
    assert set(standing(made(name))) == {"look-again"}


@pytest.mark.parametrize("name", ["certain, no window", "certain, no data", "no hours"])
def test_without_a_window_there_is_only_another_look(name: str) -> None:
    """No-go and no-data: nothing but the time to look again."""
    plan = made(name)
    assert set(standing(plan)) == {"look-again"}
    assert standing(plan)["look-again"]["DTSTART"].dt == plan.decision.look_again


@pytest.mark.parametrize("name", ["certain, all done", "certain, past finish"])
def test_a_job_that_is_over_has_nothing_left(name: str) -> None:
    """Every entry is withdrawn, at the time of the plan and without an alarm."""
    plan = made(name)
    assert not standing(plan)
    for event in read(plan).values():
        assert event["SUMMARY"].startswith("Withdrawn: ")
        assert event["DTSTART"].dt == plan.now
        assert not rings(event)


@pytest.mark.parametrize(
    ("name", "now", "when"),
    [
        ("called", "2031-04-29 08:10", "2031-04-29 20:00"),  # this evening
        ("called", "2031-04-29 21:30", "2031-04-29 21:30"),  # worth calling, and it is late
        ("not called", "2031-04-29 08:10", "2031-04-29 20:00"),  # if it is worth it then
        ("not called", "2031-04-29 21:30", None),  # late, and not worth it
        ("certain, hold", "2031-04-29 08:10", "2031-04-30 20:00"),
    ],
)
def test_the_crew_is_called_the_evening_before(name: str, now: str, when: str | None) -> None:
    """At the hour of the call; at once if that is past and it is worth it, else not at all."""
    plan = made(name)
    late = {"look_again": plan.decision.window.earliest_start} if now > "2031-04-29 20" else {}
    plan = replace(plan, now=at(now), decision=replace(plan.decision, **late))
    call = standing(plan).get("call")
    assert (call and call["DTSTART"].dt) == (when and at(when))


def test_the_check_comes_at_sunrise_after_the_night() -> None:
    """The quarter hour after the next sunrise; without one the hour of the locks a day on."""
    plan = with_locks(made("go"))
    assert standing(plan)["first-night"]["DTSTART"].dt == at("2031-04-30 06:15")
    locks = plan.decision.window.phases[-1].start
    dark = replace(plan, light=())
    assert standing(dark)["first-night"]["DTSTART"].dt == locks + dt.timedelta(days=1)
    short = replace(plan, light=plan.light[:1])
    assert standing(short)["first-night"]["DTSTART"].dt == at("2031-04-30 06:08")
    assert "first-night" not in standing(made("go"))


def test_the_check_of_a_sheet_that_is_on_is_left_alone() -> None:
    """Once the roof is locked a newer plan, about other steps, does not withdraw its check."""
    plan = made("no hours")
    assert read(plan)["first-night"]["STATUS"] == "CANCELLED"
    phases = (replace(END_WALL.phases[0], name=SETS_PULL),)
    on = replace(JOB, steps=(replace(END_WALL, phases=phases, done=True), JOB.steps[1]))
    assert "first-night" not in read(replace(plan, job=on))


def in_a_calendar(*plans: Plan) -> dict[str, Event]:
    """Take in one file after the other, as RFC 5546 says: the higher SEQUENCE, then DTSTAMP."""
    kept: dict[str, Event] = {}
    for plan in plans:
        for event in Calendar.from_ical(calendar_text(plan, units="us")).walk("VEVENT"):
            old = kept.get(str(event["UID"]))
            if old is None or version(event) > version(old):
                kept[str(event["UID"])] = event
    return {key: x for key, x in kept.items() if x["STATUS"] != "CANCELLED"}


def version(event: Event) -> tuple[int, dt.datetime]:
    return int(event["SEQUENCE"]), event["DTSTAMP"].dt


def later(plan: Plan, seconds: float) -> Plan:
    return replace(plan, now=plan.now + pd.Timedelta(seconds=seconds))


@pytest.mark.parametrize("seconds", [1, 61, 3600, 86400])
def test_a_newer_plan_takes_the_place_of_an_older(seconds: int) -> None:
    """In whatever order the two come in, the calendar shows what the newer one says."""
    old, new = made("called"), later(made("no hours"), seconds)
    for both in ((old, new), (new, old)):
        kept = in_a_calendar(*both)
        assert set(kept) == {uid(JOB, "look-again")}
    kept = in_a_calendar(old, new, later(made("go"), seconds + 60))
    assert set(kept) == {uid(JOB, kind) for kind in OF_THE_WINDOW}
    first, second = (
        read(made("waiting costs less"))["start"],
        read(later(made("go"), 60))["start"],
    )
    assert second["SEQUENCE"] == first["SEQUENCE"] + 1


def test_the_number_of_a_plan_fits_a_calendar_for_long() -> None:
    """RFC 5545, section 3.3.8: an integer stays below 2 to the 31."""
    far = replace(made("go"), now=pd.Timestamp("2199-12-31 23:59", tz="UTC"))
    assert 0 < read(far)["down-by"]["SEQUENCE"] < 2**31


def test_another_house_has_entries_of_its_own() -> None:
    """Another name or another place; people, film and last day do not count."""
    same = replace(JOB, crew=replace(JOB.crew, people=9), finish_by=None, steps=())
    other = replace(JOB, name="Quillet Hollow house 4")
    moved = replace(JOB, place=replace(JOB.place, latitude=44.01))
    ids = [[uid(job, kind) for kind in KINDS] for job in (JOB, same, other, moved)]
    assert ids[0] == ids[1]
    assert len({*ids[0], *ids[2], *ids[3]}) == 3 * len(KINDS)
    assert not any("uillet" in x for x in ids[0])


HOSTILE = (
    "a\r\nEND:VEVENT\r\nBEGIN:VALARM",
    "a;b,c:d\\n\\e\"f'",
    "<b onclick='x()'>roof</b>",
    "é" * 90 + "🌿" * 40,
    "tab\tbell\x07line\u2028para\u2029next\x85null\x00",
    "",
    " ",
)


def shown(name: str) -> str:
    """What is left of a name on one line, without control characters and tags."""
    letters = (
        " " if x.isspace() or unicodedata.category(x) == "Cc" else x
        for x in unicodedata.normalize("NFC", name).replace("<", "(").replace(">", ")")
    )
    return " ".join("".join(letters).split())


def check_name(name: str) -> None:
    plan = made("called")
    plan = replace(plan, job=replace(plan.job, name=name))
    text = calendar_text(plan, units="us")
    check_lines(text)
    assert "<" not in text
    lines = unfolded(text)
    assert lines.count("BEGIN:VEVENT") == lines.count("END:VEVENT") == len(KINDS)
    titles = [plain_text(x.removeprefix("SUMMARY:")) for x in lines if x[:8] == "SUMMARY:"]
    assert len(titles) == len(KINDS)
    for title in titles:
        assert title.endswith(f"- {shown(name)}".strip())
    assert [str(x["SUMMARY"]) for x in Calendar.from_ical(text).walk("VEVENT")] == titles


@settings(max_examples=40)
@given(name=st.text(max_size=120))
def test_any_name_comes_out_as_one_line_of_text(name: str) -> None:
    """No name ends an entry, opens another one, or is taken for a tag."""
    check_name(name)


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_stays_a_name(name: str) -> None:
    """Line ends, semicolons, commas, tags, letters of several octets."""
    check_name(name)


def test_commas_and_semicolons_are_escaped() -> None:
    """RFC 5545, section 3.3.11, on the bytes themselves."""
    job = replace(JOB, name="House 3; east, by the <i>well</i>\\")
    written = calendar_text(replace(made("go"), job=job), units="us")
    summary = next(x for x in unfolded(written) if x.startswith("SUMMARY:Be down"))
    assert summary == (r"SUMMARY:Be down: roof sheet - House 3\; east\, by the (i)well(/i)\\")


@pytest.mark.parametrize(("hours", "people", "last", "certain"), ASKED[:5])
def test_real_plans(hours: int, people: int, last: int | None, certain: bool) -> None:
    """The demo at several hours: entries in the order of the work, inside its light."""
    plan = a_plan(hours, people, last, certain=certain)
    found = standing(plan)
    check_lines(calendar_text(plan, units="si"))
    if plan.decision.answer == "go":
        assert set(found) >= OF_THE_WINDOW
    if "start" not in found:
        assert "down-by" not in found
        return
    times = [found[kind]["DTSTART"].dt for kind in ("start", "last-start", "down-by")]
    assert times == sorted(times)
    window: Window = plan.decision.window
    light = next(x for x in plan.light if x.day == window.start.tz_convert(ZONE).date())
    assert light.begin <= times[0]
    if window.step == "roof sheet":
        morning = found["first-night"]["DTSTART"].dt.astimezone(
            window.start.tz_convert(ZONE).tzinfo
        )
        assert morning.date() == window.end.tz_convert(ZONE).date() + dt.timedelta(days=1)
        assert 4 <= morning.hour < 8
