"""What the page shows, before it is laid out."""

from __future__ import annotations

from dataclasses import replace

from planner.plan.pull import pull_chart
from planner.plan.records import Plan
from planner.report.page.rows import (
    DEGREES,
    Fold,
    HourLine,
    day_sheets,
    facts,
    limit_lines,
    pull_table,
)
from planner.report.words import Words
from planner.units import parse
from tests.report.made_chances import starts_later
from tests.report.test_page import real


def words_for(plan: Plan, units: str = "us") -> Words:
    return Words(units=units, time_zone=plan.time_zone, light=plan.light)


def test_facts_are_those_of_the_window() -> None:
    """Day, range of starts, last start, down-by, chance; none without a window."""
    plan = real(0)
    words, window = words_for(plan), plan.decision.window
    assert window is not None
    told = dict(facts(plan, words))
    assert told["Last start"] == words.clock(window.latest_start)
    assert told["Down by"] == words.clock(window.down_by)
    assert told["Holds in"].endswith("of 100")
    none = replace(plan, decision=replace(plan.decision, window=None))
    assert facts(none, words) == ()


def test_a_bar_is_as_long_as_its_chance() -> None:
    """Each hour's bar in hundredths of the longest, and every hour of the day once."""
    plan = real(0)
    sheets = day_sheets(plan, words_for(plan))
    assert sum(x.best for x in sheets) == 1
    for sheet in sheets:
        lines = [x for x in sheet.lines if isinstance(x, HourLine)]
        assert lines
        assert any(isinstance(x, Fold) for x in sheet.lines)
        for line in lines:
            if line.number:
                assert abs(line.length - int(line.number.partition(" ")[0])) <= 1
        for line in lines:
            reaches = line.length >= sheet.marks[0] - 1
            assert (line.state == "holds") <= reaches


def test_bars_of_one_certain_weather_are_gusts() -> None:
    """The marks are limits then, and what holds stays under the loosest."""
    plan = real(4)
    assert plan.weather.members == 1
    for sheet in day_sheets(plan, words_for(plan)):
        for line in sheet.lines:
            if isinstance(line, HourLine) and line.state == "holds":
                assert line.length <= max(sheet.marks) + 1
                assert line.number.endswith("mph")


def test_a_row_every_ten_degrees_and_a_text_for_each() -> None:
    """The table is a part of the texts, in either unit."""
    plan = real(0)
    for units, unit in (("us", "F"), ("si", "C")):
        first, last, step = DEGREES[units]
        temps = [parse(f"{x} {unit}", "temperature") for x in range(first, last + 1)]
        table = pull_table(plan, pull_chart(plan.job, temps), words_for(plan, units))
        assert len(table.texts) == last - first + 1
        assert [x[0] for x in table.rows] == [
            f"{x} {unit}" for x in range(first, last + 1, step)
        ]
        assert len({len(x) for x in table.rows}) == 1


def test_every_governing_limit_has_kind_and_source() -> None:
    """Each once, with the phases it holds for; none is lost in the grouping."""
    plan = starts_later()
    here = next(x for x in plan.steps if x.step.name == plan.decision.step)
    governing = [x for of in here.found.limits.values() for x in of if x.governs]
    lines = limit_lines(plan, words_for(plan))
    assert all(x.kind and x.source and x.phases for x in lines)
    assert {x.kind for x in lines} == {x.kind for x in governing}
    whole = len(here.found.limits)
    count = sum(whole if x.phases == "every phase" else x.phases.count(",") + 1 for x in lines)
    assert count == len(governing)
