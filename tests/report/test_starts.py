"""Other starts and the order of the steps, with their chances."""

from __future__ import annotations

from dataclasses import replace

from planner.plan.records import Plan
from planner.report.answer.starts import next_starts, order
from planner.report.words import Words
from tests.report.made_chances import (
    CASES,
    at,
    likely,
    missing,
    one_day,
    one_step,
    starts_later,
    trouble,
    weighed,
)


def words_for(plan: Plan) -> Words:
    return Words(units="us", time_zone=plan.time_zone, light=plan.light)


def rows(found: list[tuple[str, str]]) -> list[str]:
    return [" ".join(f"{head} {text}".split()) for head, text in found]


def ordered(plan: Plan) -> list[str]:
    return rows(order(plan, words_for(plan)))


def test_next_starts_have_chance_and_trouble() -> None:
    """Day, range of starts, chance, and what is likeliest to stop them."""
    plan = starts_later()
    assert rows(next_starts(plan, words_for(plan))) == [
        "Next starts 2 Fri May 2 6:15 to 7:00 am 64 of 100 gust over 4.0, 6:30 am"
    ]


def test_the_longest_row_fits_on_one_line() -> None:
    """A range over noon, two figures in the limit and in the clock."""
    about = {
        "reason": replace(trouble("2031-05-06 11:00"), bound=5.6),
        "latest_start": at("2031-05-06 12:00"),
    }
    windows = tuple(likely("2031-05-06 9:30", 0.5, rank, **about) for rank in range(1, 13))
    plan = weighed(windows, codes=("starts-later",))
    found = next_starts(plan, words_for(plan))
    assert all(len(head + text) <= 80 for head, text in found)
    assert "gust over 12.5, 11:00 am" in found[0][1]
    assert len(found) == 4
    assert found[-1][1] == "and 8 more"


def test_a_start_that_holds_in_all_names_the_closest_limit() -> None:
    """Where nothing fails, the least room is told."""
    sure = likely("2031-05-02 06:30", 1.0, 2, reason=trouble("2031-05-02 06:30", share=0.0))
    plan = weighed((likely("2031-05-01 06:15", 0.9, 1), sure), codes=())
    [row] = rows(next_starts(plan, words_for(plan)))
    assert row.endswith("100 of 100 gust 2.7 of 4.0 at 6:30 am")


def test_order_has_every_step_and_both_chances() -> None:
    """Each step at its place; all as listed, and hours enough one way or another."""
    assert ordered(starts_later()) == [
        "Order end wall south Tue Apr 29 5:00 pm 93 of 100",
        "roof sheet Thu May 1 6:15 am 81",
        "All as listed, and what is up stands the waits between: 61 of 100; hours enough "
        "one way or another by Fri May 9: 90.",
    ]


def test_columns_of_the_order_stand_under_each_other() -> None:
    """A hundred and a single figure end in the same column."""
    plan = starts_later()
    assert plan.order is not None
    first, second = plan.order.steps
    steps = (first, replace(second, chance=1.0), replace(second, step="trim", chance=0.03))
    plan = replace(plan, order=replace(plan.order, steps=steps))
    lines = [f"{head}{text}" for head, text in order(plan, words_for(plan))[:3]]
    ends = [
        lines[0].index("93") + 2,
        lines[1].rindex("100") + 3,
        lines[2].rindex("3") + 1,
    ]
    assert len(set(ends)) == 1


def test_missing_steps_are_named_with_their_reason() -> None:
    """The end wall finds only rain, and no weather has hours for all of it."""
    found = ordered(missing())
    assert found[1] == "end wall south no hours: rain from Thu May 1 9:00 am"
    assert found[2] == "In none of the possible weathers does all of it fit by Fri May 9."


def test_missing_around_one_start_only() -> None:
    """Other starts would have room for all of it."""
    plan = missing()
    assert plan.order is not None
    end_wall = starts_later().steps[0]
    crowded = replace(
        plan, order=replace(plan.order, chance_all=0.7), steps=(end_wall, plan.steps[1])
    )
    found = ordered(crowded)
    assert found[1] == "end wall south no day left for it"
    assert found[2] == (
        "Around that start not all of it fits; with others, by Fri May 9: 70 of 100."
    )


def test_one_step_left_asks_only_for_hours() -> None:
    """A single step has no order; on some day it may still be done."""
    assert ordered(one_step()) == [
        "In all Hours enough for it, one day or another, by Fri May 9: 90 of 100."
    ]


def test_by_when_is_the_end_of_the_file_if_that_is_first() -> None:
    """The file ends at midnight after 8 May; without a last day, or with one after it."""
    plan = starts_later()
    job = replace(plan.job, finish_by=None)
    assert "by the end of Thu May 8: 90" in ordered(replace(plan, job=job))[-1]
    assert plan.job.finish_by is not None
    late = replace(plan.job, finish_by=plan.job.finish_by.replace(day=20))
    assert "by the end of Thu May 8: 90" in ordered(replace(plan, job=late))[-1]


def test_one_day_keeps_the_list_of_steps() -> None:
    """Without an order each step has its own best hours."""
    found = ordered(one_day())
    assert found[0].startswith("Steps end wall south Wed Apr 30 6:00 to 6:45 pm 100 of 100")
    assert found[-1].startswith("Best hours of each step")


def test_one_certain_weather_keeps_the_list_of_steps() -> None:
    """No chances there."""
    for make in (starts_later, CASES["missing"]):
        plan = make()
        certain = replace(plan, weather=replace(plan.weather, members=1))
        found = " ".join(ordered(certain))
        assert found.startswith("Steps")
        assert "of 100" not in found
