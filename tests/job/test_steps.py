"""The built-in steps against the phase table of the trade page, for its two houses.

The table (practice page, sections 4 and 5) gives a 6 m by 15 m and a 9 m by 29 m half
circle: sizes of sheets, minutes, and the gust that the hands hold at 150 N a person.
The sizes are typed from it here, so that no shape is worked out twice.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from planner.job.jobfile import parse_job
from planner.job.phases import Sizes
from planner.job.records import Job, Phase
from planner.job.steps import LEFT_OUT, built_in_steps, make_safe_minutes

TWO_MINUTES = 2.0  # the table rounds every phase up to whole minutes [min]
HALF_A_PERSON_HOUR = 0.5  # sums are printed in whole person-hours
TENTH = 0.11  # gust limits are printed to 0.1 m/s, one of them to 0.05
AIR_DENSITY = 1.225  # of the table [kg/m3]

SMALL = Sizes(
    roof_area=127.0,
    end_wall_area=23.76,  # (6 + .6) x (3 + .6)
    side_area=23.4,
    arc=9.42,
    lock_arc=6.96,
    roof_channel=43.9,
    throw_lines=3,
    bays=12,
    pull_weight=172.0,
    leave_gust_tacked=5.3,
    leave_gust_open_end=11.0,
    leave_gust_closed=15.0,
)
LARGE = Sizes(
    roof_area=362.0,
    end_wall_area=48.96,  # (9 + .6) x (4.5 + .6)
    side_area=53.3,
    arc=14.14,
    lock_arc=11.08,
    roof_channel=80.2,
    throw_lines=5,
    bays=24,
    pull_weight=483.0,
    leave_gust_tacked=4.4,
    leave_gust_open_end=9.0,
    leave_gust_closed=12.0,
)


def job_of(sizes: Sizes, *, pace: float = 1.0, film: str = "", place: str = "") -> Job:
    """Give the job of one of the table's two houses: 4 people on one, 6 on the other."""
    small = sizes is SMALL
    return parse_job(
        f"""
        name = "table"
        [place]
        latitude = 43.9
        longitude = -91.6
        {place}
        [house]
        width = "{6 if small else 9} m"
        length = "{15 if small else 29} m"
        hip = "{1.2 if small else 1.5} m"
        [film]
        {film}
        [crew]
        people = {4 if small else 6}
        pace = {pace}
        """
    )


def phases_of(job: Job, sizes: Sizes) -> dict[tuple[str, str], Phase]:
    """Give every phase by the names of its step and itself."""
    return {
        (step.name, phase.name): phase
        for step in built_in_steps(job, sizes)
        for phase in step.phases
    }


def held(phase: Phase) -> float:
    """Gust that the hands hold at 150 N a person, by the table's own formula [m/s]."""
    spare = phase.hands * 150.0 - phase.taken
    return math.sqrt(2.0 * spare / (AIR_DENSITY * phase.drag * phase.loose_area))


def person_minutes(phases: dict[tuple[str, str], Phase]) -> float:
    """Add up the work without stripping old film [person-min]."""
    return sum(
        phase.minutes * phase.hands
        for (step, _), phase in phases.items()
        if step not in LEFT_OUT
    )


@pytest.mark.parametrize(
    ("sizes", "pace", "hours"),
    [(SMALL, 1.0, 13.0), (LARGE, 1.0, 20.0), (SMALL, 1.6, 21.0), (LARGE, 1.6, 33.0)],
)
def test_the_work_adds_up(sizes: Sizes, pace: float, hours: float) -> None:
    """Practice page: 13 and 20 person-hours practised, 21 and 33 the first time."""
    total = person_minutes(phases_of(job_of(sizes, pace=pace), sizes)) / 60.0
    assert total == pytest.approx(hours, abs=HALF_A_PERSON_HOUR)


@pytest.mark.parametrize(("sizes", "whole", "calm"), [(SMALL, 71.0, 15.0), (LARGE, 92.0, 18.0)])
def test_roof_to_leave_safe(sizes: Sizes, whole: float, calm: float) -> None:
    """Practice page: 71 and 92 min from lay out to ends, 15 and 18 of them dead calm."""
    found = phases_of(job_of(sizes), sizes)
    names = ["lay out", "pull over", "first locks", "lock edge 1", "lock edge 2", "lock ends"]
    minutes = [found["roof sheet", name].minutes for name in names]
    assert sum(minutes) == pytest.approx(whole, abs=TWO_MINUTES)
    assert sum(minutes[1:3]) == pytest.approx(calm, abs=TWO_MINUTES)


# Step, phase, minutes and gust held on the small and on the large house.
TABLE = [
    ("strip old film", "strip", (10, 12), (3.6, 2.6)),
    ("end wall north", "hang and clip", (20, 20), (4.1, 3.5)),
    ("end wall south", "lock arc and base", (20, 20), (5.9, 5.0)),
    ("roof sheet", "lines over", (25, 35), None),
    ("roof sheet", "lay out", (9, 12), (11.3, 8.2)),
    ("roof sheet", "pull over", (9, 11), (4.3, 2.5)),
    ("roof sheet", "first locks", (6, 7), (3.9, 2.85)),
    ("roof sheet", "lock edge 1", (10, 11), (4.7, 3.4)),
    ("roof sheet", "lock edge 2", (13, 15), (5.3, 3.8)),
    ("roof sheet", "lock ends", (24, 36), (7.0, 5.5)),
    ("roof sheet", "shut doors", (30, 30), None),
    ("trim", "trim edges", (15, 28), None),
    ("roll-up sides", "first side", (16, 27), None),
    ("cords and straps", "second side", (17, 29), None),
]


@pytest.mark.parametrize(("step", "phase", "minutes", "gusts"), TABLE)
def test_each_row_of_the_table(
    step: str, phase: str, minutes: tuple[float, float], gusts: tuple[float, float] | None
) -> None:
    """Minutes of a practised crew and the gust its hands hold are those of the table."""
    for at, sizes in enumerate((SMALL, LARGE)):
        found = phases_of(job_of(sizes), sizes)[step, phase]
        assert found.minutes == pytest.approx(minutes[at], abs=1.0)
        if gusts is not None:
            assert held(found) == pytest.approx(gusts[at], abs=TENTH)


def test_caps_and_their_reasons() -> None:
    """Caps of the table: 4.5 m/s for pull and tack, 7 on ladders, 6 and 8 elsewhere."""
    found = phases_of(job_of(SMALL), SMALL)
    caps = {names: phase.gust_ceiling for names, phase in found.items()}
    assert caps["roof sheet", "pull over"] == caps["roof sheet", "first locks"] == 4.5
    assert caps["roof sheet", "lock ends"] == caps["end wall north", "hang and clip"] == 7.0
    assert caps["roof sheet", "lines over"] == caps["roof sheet", "lay out"] == 6.0
    assert caps["roll-up sides", "first side"] == 6.0
    assert caps["trim", "trim edges"] == caps["roof sheet", "shut doors"] == 8.0
    assert caps["cords and straps", "first side"] == 8.0
    # 26 mph: the published gust for handling sheets longer than 5 m.
    assert caps["roof sheet", "lock edge 1"] == pytest.approx(11.6)
    assert all(phase.ceiling_source for phase in found.values())
    assert found["roof sheet", "lock edge 1"].ceiling_kind == "published"


def test_what_each_state_survives_alone() -> None:
    """Nobody leaves a draped sheet; braces decide what end walls alone survive."""
    found = phases_of(job_of(SMALL), SMALL)
    leave = {
        phase: one.leave_gust for (step, phase), one in found.items() if step == "roof sheet"
    }
    assert [leave[name] for name in ("pull over", "first locks", "lock edge 1")] == [None] * 3
    assert leave["lay out"] == 6.0
    assert (leave["lock edge 2"], leave["lock ends"], leave["shut doors"]) == (5.3, 11.0, 15.0)
    assert found["end wall north", "hang and clip"].leave_gust is None
    wall = ("end wall north", "lock arc and base")
    assert found[wall].leave_gust == 15.0
    job = job_of(SMALL)
    unbraced = replace(job, house=replace(job.house, braced=False))
    assert phases_of(unbraced, SMALL)[wall].leave_gust == 10.0


def test_every_step_ends_in_a_state_that_can_be_left() -> None:
    """However the house is built, no step may end with film that somebody must hold."""
    for film in ("", "layers = 2", 'sides = "one-piece"', 'layers = 2\nsides = "one-piece"'):
        for step in built_in_steps(job_of(SMALL, film=film), SMALL):
            assert step.phases[-1].leave_safe, (film, step.name)


def test_order_of_the_steps() -> None:
    """Roof after both end walls, trim a night after the roof, cords after the sides."""
    steps = {step.name: step for step in built_in_steps(job_of(SMALL), SMALL)}
    assert list(steps) == [
        "strip old film",
        "end wall north",
        "end wall south",
        "roof sheet",
        "trim",
        "roll-up sides",
        "cords and straps",
    ]
    assert steps["roof sheet"].after == ("end wall north", "end wall south")
    assert (steps["trim"].after, steps["trim"].nights_after) == (("roof sheet",), 1)
    assert steps["roll-up sides"].after == ("roof sheet",)
    assert steps["cords and straps"].after == ("roll-up sides",)


def test_one_piece_sheets_have_skirts_and_no_sides() -> None:
    """Tails are clipped before the ends, and until then nobody leaves the second edge."""
    found = phases_of(job_of(SMALL, film='sides = "one-piece"'), SMALL)
    names = [phase for step, phase in found if step == "roof sheet"]
    assert names.index("lock edge 2") < names.index("clip skirts") < names.index("lock ends")
    assert found["roof sheet", "lock edge 2"].leave_gust is None
    assert found["roof sheet", "clip skirts"].leave_gust == 5.3
    assert not [step for step, _ in found if step == "roll-up sides"]


def test_two_layers_are_pulled_one_after_the_other() -> None:
    """The second layer has a pull and locks of its own, then the fan is started."""
    one = phases_of(job_of(SMALL), SMALL)
    two = phases_of(job_of(SMALL, film="layers = 2"), SMALL)
    names = [phase for step, phase in two if step == "roof sheet"]
    assert names[2:6] == ["pull over", "first locks", "pull second layer", "second layer locks"]
    assert names.index("lock ends") < names.index("inflate") < names.index("shut doors")
    pull = two["roof sheet", "pull second layer"]
    assert pull.taken == one["roof sheet", "pull over"].taken
    assert two["roof sheet", "lay out"].loose_area == pytest.approx(
        2 * one["roof sheet", "lay out"].loose_area
    )


def test_a_small_crew_does_what_it_can() -> None:
    """Hands are never more than the crew; fewer hands take longer and hold less."""
    job = job_of(SMALL)
    alone = replace(job, crew=replace(job.crew, people=1))
    few, many = phases_of(alone, SMALL), phases_of(job, SMALL)
    for names, phase in few.items():
        assert phase.hands == 1
        work = many[names].minutes * many[names].hands
        assert phase.minutes == pytest.approx(work)


def test_no_channel_above_ground_means_no_sides() -> None:
    """A sheet locked at the ground has no roll-up sides; the cords wait for the roof."""
    steps = built_in_steps(job_of(SMALL), replace(SMALL, side_area=0.0))
    assert "roll-up sides" not in [step.name for step in steps]
    assert steps[-1].after == ("roof sheet",)


def test_wires_nearby_want_dry_lines() -> None:
    """A wet throw line near an overhead wire conducts."""
    near = phases_of(job_of(SMALL, place="overhead_line = true"), SMALL)
    assert near["roof sheet", "lines over"].wet == "dry"
    assert phases_of(job_of(SMALL), SMALL)["roof sheet", "lines over"].wet == "damp"


def test_make_safe() -> None:
    """Practice page: making safe takes 9 and 12 min with all hands."""
    assert make_safe_minutes(job_of(SMALL), SMALL) == pytest.approx(9.0, abs=1.0)
    assert make_safe_minutes(job_of(LARGE), LARGE) == pytest.approx(12.0, abs=1.0)


@pytest.mark.parametrize("people", [2, 4, 7])
@pytest.mark.parametrize("sizes", [SMALL, LARGE])
def test_minutes_to_make_safe_are_held_back(people, sizes) -> None:
    """While the roof sheet is loose, more minutes of the step lie ahead than making it safe
    takes; and a start needs light, crew hours and calm to the end of the step."""
    job = replace(job_of(sizes), crew=replace(job_of(sizes).crew, people=people))
    roof = next(step for step in built_in_steps(job, sizes) if step.sheet == "roof")
    left = roof.minutes
    for phase in roof.phases[:-1]:
        left -= phase.minutes
        if not phase.leave_safe:
            assert left >= make_safe_minutes(job, sizes)
