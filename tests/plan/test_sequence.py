"""The order of steps from drawn hours: local times, days, waits and what is fixed."""

import itertools
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.hours.holds import starts_that_hold
from planner.hours.windows import find_windows
from planner.plan.sequence import Laid, sequence
from tests.hours.drawn import CALM, WINDY, hours, limit
from tests.hours.drawn import step as made_step

LIMITS = (limit(),)


def step(name, minutes, *, leave=None, **waits):
    """Make a step of one phase; ``leave`` is the gust that it stands afterwards."""
    plain = made_step(minutes)
    [phase] = plain.phases
    return replace(plain, name=name, phases=(replace(phase, leave_gust=leave),), **waits)


def lay(conditions, *steps, every=60, closed=()):
    """Lay steps on drawn hours; ``closed`` hours are not open for a start."""
    open_to = np.ones(4 * len(conditions.times), dtype=bool)
    for hour in closed:
        open_to[4 * hour : 4 * hour + 4] = False
    return [
        Laid(
            step=one,
            holds=starts_that_hold(conditions, one, {"phase 0": LIMITS}, starts_every=every),
            open_to=open_to,
        )
        for one in steps
    ]


def placed(found):
    """Give {step: (day, hour of start, hour of end)}."""
    return {
        one.step: (one.start.day, one.start.hour, one.end.hour + one.end.minute / 60)
        for one in found.steps
    }


def test_walls_first_then_the_roof():
    """Two spells of two hours: the wall in the first, the roof that waits in the second."""
    conditions = hours("..##....##....")
    wall, roof = step("wall", 120), step("roof", 120, after=("wall",))
    found = sequence(conditions, lay(conditions, roof, wall))
    assert placed(found) == {"wall": (4, 2, 4), "roof": (4, 8, 10)}
    assert (found.chance_as_listed, found.chance_all, found.missing) == (1.0, 1.0, ())


def test_times_are_local():
    """The same hours by the clock of Chicago, five hours behind in May."""
    conditions = hours("......##......", zone="America/Chicago")
    [only] = sequence(conditions, lay(conditions, step("roof", 120))).steps
    assert only.start == pd.Timestamp("2026-05-04T01:00", tz="America/Chicago")
    assert only.start.tz is not None


def test_a_night_is_one_of_the_place():
    """Three hours after the roof, past midnight by the place's clock: another day.

    05:00 UTC is midnight in Chicago; by UTC both starts would be on one day.
    """
    drawing = "..##...##......"
    roof, trim = step("roof", 120), step("trim", 60, after=("roof",), nights_after=1)
    local = hours(drawing, zone="America/Chicago")
    found = sequence(local, lay(local, roof, trim))
    assert placed(found) == {"roof": (3, 21, 23), "trim": (4, 2, 3)}
    utc = hours(drawing)
    assert sequence(utc, lay(utc, roof, trim)).missing == ("trim",)


def test_a_step_that_ends_at_midnight_has_no_night_yet():
    """The day of the end counts: at 00:00 the new day has begun, and a night is still due."""
    conditions = hours("." * 22 + "##" + ".." + "##" + "." * 20 + "####")
    roof, trim = step("roof", 120), step("trim", 60, after=("roof",), nights_after=1)
    found = placed(sequence(conditions, lay(conditions, roof, trim)))
    assert found["roof"] == (4, 22, 0)
    assert found["trim"][0] == 6


def test_two_members_agree_on_one_line():
    """Each weather has its own best hours; only the second spell holds in both."""
    conditions = hours("##..##....", "....##..##")
    conditions = replace(conditions, weights=np.array([0.4, 0.6]))
    found = sequence(conditions, lay(conditions, step("roof", 120)))
    assert placed(found) == {"roof": (4, 4, 6)}
    assert found.chance_as_listed == pytest.approx(1.0)


def test_both_chances():
    """One line for two weathers holds in the likelier; each by itself has hours enough."""
    conditions = hours("##......", "....##..")
    conditions = replace(conditions, weights=np.array([0.4, 0.6]))
    found = sequence(conditions, lay(conditions, step("roof", 120)))
    assert placed(found) == {"roof": (4, 4, 6)}
    assert found.chance_as_listed == pytest.approx(0.6)
    assert found.chance_all == pytest.approx(1.0)
    assert found.steps[0].chance == pytest.approx(0.6)


def test_hours_that_are_past_are_not_used():
    """The first spell is over: the second is taken, and there is no third for the next."""
    conditions = hours("..##..##..")
    wall, roof = step("wall", 120), step("roof", 120, after=("wall",))
    laid = lay(conditions, wall, roof, closed=range(5))
    found = sequence(conditions, laid)
    assert placed(found) == {"wall": (4, 6, 8)}
    assert found.missing == ("roof",)
    assert found.chance_as_listed == 0.0


def test_minutes_that_end_between_quarters_are_rounded_up():
    """Fifty minutes end within the hour; the next step starts at the full quarter."""
    conditions = hours("####")
    first, second = step("first", 50), step("second", 50, after=("first",))
    found = sequence(conditions, lay(conditions, first, second, every=15))
    ends = [one.end for one in found.steps]
    starts = [one.start for one in found.steps]
    assert starts[1] >= ends[0]
    assert ends[0] - starts[0] == pd.Timedelta(minutes=60)


def test_a_start_on_wet_film_ends_when_its_window_does():
    """Six calm hours, the first two wet: a wall of two hours takes 2 h 36 min then."""
    conditions = hours("######")
    wetness = np.array([[0.2, 0.2, 0.0, 0.0, 0.0, 0.0]])
    conditions = replace(conditions, values=conditions.values | {"wetness": wetness})
    wall, roof = step("wall", 120), step("roof", 60, after=("wall",))
    found = sequence(conditions, lay(conditions, wall, roof, every=15))
    assert found.steps[0].start == conditions.times[0]
    assert found.steps[0].end == pd.Timestamp("2026-05-04T02:45Z")
    assert found.steps[1].start == found.steps[0].end
    [window] = find_windows(conditions, wall, {"phase 0": LIMITS}, starts_every=15).windows
    by_window = sequence(conditions, lay(conditions, wall, roof, every=15), fixed=window)
    assert by_window.steps[0].end - window.end < pd.Timedelta(minutes=15)


def test_what_is_fixed_stays():
    """The answer is about the second spell: it is the roof's, and the trim comes after."""
    conditions = hours("###..###..###.")
    roof, trim = step("roof", 120), step("trim", 60, after=("roof",))
    laid = lay(conditions, roof, trim)
    free = sequence(conditions, laid)
    assert placed(free)["roof"] == (4, 0, 2)
    windows = find_windows(conditions, roof, {"phase 0": LIMITS}, starts_every=60).windows
    fixed = next(one for one in windows if one.start.hour == 5)
    found = sequence(conditions, laid, fixed=fixed)
    assert placed(found) == {"roof": (4, 5, 7), "trim": (4, 7, 8)}


def test_what_is_up_must_stand_the_wait():
    """A gust between wall and roof that the wall does not stand alone: the chance says so.

    In the first weather it blows twice what the wall stands, in the second it does not.
    """
    conditions = hours("##...##.", "##...##.")
    gust = np.where(conditions.values["gust"] == WINDY, 4.0, CALM)
    gust[0, 3] = 9.0
    conditions = replace(
        conditions,
        values=conditions.values | {"gust": gust},
        weights=np.array([0.25, 0.75]),
    )
    roof = step("roof", 120, after=("wall",))
    for leave, chance in ((4.5, 0.75), (10.0, 1.0), (None, 1.0)):
        wall = step("wall", 120, leave=leave)
        found = sequence(conditions, lay(conditions, wall, roof))
        assert placed(found) == {"wall": (4, 0, 2), "roof": (4, 5, 7)}
        assert found.chance_as_listed == pytest.approx(chance)


@settings(deadline=None)
@given(seed=st.integers(0, 2**32 - 1), every=st.sampled_from([15, 30, 60]))
def test_any_order_could_be_done_by_one_crew(seed, every):
    """Nothing overlaps, nothing comes before what it waits for, chances are of the starts."""
    random = np.random.default_rng(seed)
    drawn = ["".join(random.choice(list("###."), 40)) for _ in range(3)]
    conditions = hours(*drawn, zone="America/Chicago")
    steps = [
        step("wall", 75, leave=6.0),
        step("roof", 100, after=("wall",), leave=6.0),
        step("sides", 40, after=("roof",)),
        step("trim", 20, after=("roof",), nights_after=1),
    ]
    laid = lay(conditions, *steps, every=every)
    found = sequence(conditions, laid)
    by_name = {one.step: one for one in found.steps}
    assert set(by_name) | set(found.missing) == {one.name for one in steps}
    assert all(a.end <= b.start for a, b in itertools.pairwise(found.steps))
    for one in steps:
        for before in one.after:
            if one.name in by_name and before in by_name:
                nights = (by_name[one.name].start.date() - by_name[before].end.date()).days
                assert by_name[one.name].start >= by_name[before].end
                assert nights >= one.nights_after
    for one, its in zip(steps, laid, strict=True):
        if one.name in by_name:
            after = by_name[one.name].start - conditions.times[0]
            start = int(after / pd.Timedelta(minutes=every))
            held = its.holds.ok[:, start].mean()
            assert by_name[one.name].chance == pytest.approx(held, abs=1e-6)
            assert found.chance_as_listed <= held + 1e-6
    assert found.chance_as_listed <= found.chance_all + 1e-6
