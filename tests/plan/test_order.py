"""The order of steps: checked against every line of starts there is, where those are few."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.plan import candidates as candidates_module
from planner.plan import order as order_module
from planner.plan.order import Candidates, order_steps
from planner.reference.tables import value

DAY = 96  # quarter hours
EXACT = 1e-9


def step(name, *drawings, starts=None, takes=4, stands=None, **waits):
    """Make a step from one drawing a member, '#' where a start holds: hourly by default."""
    ok = np.array([[char == "#" for char in drawing] for drawing in drawings])
    starts = np.arange(ok.shape[1]) * 4 if starts is None else np.asarray(starts)
    ends = starts + takes
    if stands is not None:
        stands = np.array([[char == "#" for char in drawing] for drawing in stands])
    return Candidates(
        step=name,
        starts=starts,
        ends=ends,
        start_days=starts // DAY,
        end_days=ends // DAY,
        ok=ok,
        stands=stands,
        **waits,
    )


def equal(members):
    """Give every possible weather the same weight."""
    return np.full(members, 1.0 / members)


def places(order):
    """Give {step: start}."""
    return {one.step: one.start for one in order.placed}


# An independent search: all combinations of starts, hour by hour.


def lines(steps):
    """Give every choice of one start a step that a crew could do, as places by step."""
    for chosen in itertools.product(*(range(len(one.starts)) for one in steps)):
        at = dict(zip([one.step for one in steps], chosen, strict=True))
        if could_be_done({one.step: one for one in steps}, at):
            yield at


def could_be_done(steps, at):
    """Whether no two steps overlap, and none comes before what it waits for."""
    for (one, place), (other, there) in itertools.combinations(at.items(), 2):
        first, second = sorted(
            [(steps[one], place), (steps[other], there)], key=lambda x: x[0].starts[x[1]]
        )
        if first[0].ends[first[1]] > second[0].starts[second[1]]:
            return False
    for name, place in at.items():
        for before in (x for x in steps[name].after if x in at):
            nights = steps[name].start_days[place] - steps[before].end_days[at[before]]
            if steps[before].ends[at[before]] > steps[name].starts[place]:
                return False
            if nights < steps[name].nights_after:
                return False
    return True


def holds_in(steps, at, member):
    """Whether every start of a line holds in one possible weather, and every wait."""
    in_order = sorted(steps, key=lambda one: one.starts[at[one.step]])
    if not all(one.ok[member, at[one.step]] for one in steps):
        return False
    up = None
    for one, then in itertools.pairwise(in_order):
        up = one.stands if one.stands is not None else up
        hour = -(-one.ends[at[one.step]] // 4)
        while up is not None and hour < then.starts[at[then.step]] // 4:
            if not up[member, hour]:
                return False
            hour += 1
    return True


def search(steps, weights):
    """Give the best chance, its earliest finish, and the share in which any line holds."""
    best, finish, some = 0.0, None, np.zeros(len(weights), dtype=bool)
    free = [replace(one, stands=None) for one in steps]
    for at in lines(steps):
        kept = [holds_in(steps, at, member) for member in range(len(weights))]
        some |= [holds_in(free, at, member) for member in range(len(weights))]
        chance = round(float(weights @ np.array(kept)), 9)
        end = max(int(one.ends[at[one.step]]) for one in steps)
        if (chance, -end) > (best, -(finish or 10**9)) and chance > 0.0:
            best, finish = chance, end
    return best, finish, float(weights @ some)


def drawn_at_random(seed, steps=4, starts=6):
    """Make a few steps with starts over two and a half days, and weights."""
    draw = np.random.default_rng(seed)
    members, hours = int(draw.integers(1, 12)), 60
    made = []
    for number in range(int(draw.integers(1, steps + 1))):
        begin = np.sort(draw.choice(hours * 4 - 20, int(draw.integers(1, starts)), False))
        end = begin + draw.integers(1, 12) + draw.integers(0, 4, len(begin))
        alone = draw.random((members, hours)) < 0.93
        made.append(
            Candidates(
                step=f"step {number}",
                after=tuple(f"step {x}" for x in range(number) if draw.random() < 0.4),
                nights_after=int(draw.integers(0, 2)),
                starts=begin,
                ends=end,
                start_days=begin // DAY,
                end_days=end // DAY,
                ok=draw.random((members, len(begin))) < draw.choice([0.4, 0.7, 0.95]),
                stands=alone if draw.random() < 0.6 else None,
            )
        )
    weights = draw.random(members) if seed % 2 else np.ones(members)
    return made, weights / weights.sum()


@pytest.fixture
def wide(monkeypatch):
    """Let every start be tried and every line be kept."""

    def much(table, key):
        return 10_000.0 if key.startswith("order_") else value(table, key)

    monkeypatch.setattr(order_module, "value", much)
    monkeypatch.setattr(candidates_module, "value", much)


@pytest.mark.usefixtures("wide")
@pytest.mark.parametrize("seed", range(60))
def test_nothing_beats_it_where_every_line_is_kept(seed):
    """Chance, finish and share of weathers with hours enough, as an exhaustive search."""
    steps, weights = drawn_at_random(seed)
    best, finish, some = search(steps, weights)
    order = order_steps(steps, weights)
    assert order.chance == pytest.approx(best, abs=EXACT)
    assert order.chance_all == pytest.approx(some, abs=EXACT)
    if best > 0.0:
        assert order.placed[-1].end == finish


def test_few_lines_are_nearly_always_enough():
    """With the lines that are kept in use, fewer than one case in twenty falls short."""
    short = cases = 0
    for seed in range(1000, 1100):
        steps, weights = drawn_at_random(seed, starts=8)
        best, _, _ = search(steps, weights)
        cases += best > 0.0
        short += order_steps(steps, weights).chance < best - EXACT
    assert cases >= 40
    assert short < cases / 20


@given(seed=st.integers(0, 10**6))
@settings(max_examples=150, deadline=None)
def test_what_is_placed_can_be_done(seed):
    """No overlap, nothing before what it waits for, no step lost; chances in their order."""
    steps, weights = drawn_at_random(seed, steps=5)
    by_name = {one.step: one for one in steps}
    order = order_steps(steps, weights)
    at = {
        name: int(np.flatnonzero(by_name[name].starts == start)[0])
        for name, start in places(order).items()
    }
    assert could_be_done(by_name, at)
    assert list(places(order).values()) == sorted(places(order).values())
    assert {*at, *order.missing} == set(by_name)
    assert not any(x in order.missing for name in at for x in by_name[name].after)
    for one in order.placed:
        own = by_name[one.step]
        assert one.end == own.ends[at[one.step]]
        assert one.chance == pytest.approx(weights @ own.ok[:, at[one.step]], abs=EXACT)
        assert order.chance <= one.chance + EXACT
    assert order.chance <= order.chance_all + EXACT
    if not order.missing:
        kept = [holds_in(steps, at, member) for member in range(len(weights))]
        assert order.chance == pytest.approx(weights @ np.array(kept), abs=EXACT)


@pytest.mark.usefixtures("wide")
@pytest.mark.parametrize("seed", range(200, 225))
def test_a_better_hour_never_lowers_a_chance(seed):
    """One start that did not hold in one weather now holds: no chance falls."""
    steps, weights = drawn_at_random(seed)
    draw = np.random.default_rng(seed)
    before = order_steps(steps, weights)
    which = int(draw.integers(len(steps)))
    ok = steps[which].ok.copy()
    ok[draw.integers(len(weights)), draw.integers(ok.shape[1])] = True
    steps[which] = replace(steps[which], ok=ok)
    after = order_steps(steps, weights)
    assert after.chance >= before.chance - EXACT
    assert after.chance_all >= before.chance_all - EXACT


@pytest.mark.parametrize("seed", range(300, 315))
def test_a_weather_told_twice_counts_once(seed):
    """A member split into two of half its weight changes neither line nor chances."""
    steps, weights = drawn_at_random(seed)
    twice = [
        replace(
            one,
            ok=np.vstack([one.ok, one.ok[:1]]),
            stands=None if one.stands is None else np.vstack([one.stands, one.stands[:1]]),
        )
        for one in steps
    ]
    halves = np.append(weights, weights[0] / 2)
    halves[0] /= 2
    once, split = order_steps(steps, weights), order_steps(twice, halves)
    assert places(once) == places(split)
    assert split.chance == pytest.approx(once.chance, abs=2 * EXACT)
    assert split.chance_all == pytest.approx(once.chance_all, abs=2 * EXACT)


def test_steps_good_in_different_weathers_seldom_hold_together():
    """Each has 0.5 at its start, never in the same weather; hours enough there are none."""
    walls = step("walls", "#.", "..", starts=[0, 8])
    roof = step("roof", "..", ".#", starts=[0, 8])
    order = order_steps([walls, roof], equal(2))
    assert order.chance == order.chance_all == 0.0
    assert len(order.placed) == 1
    assert len(order.missing) == 1


def test_hours_that_hold_in_the_same_weathers_are_taken():
    """The walls' best hour is 3 in 4, but the roof holds where their other hour does."""
    walls = step("walls", "#.", "#.", "##", ".#")
    roof = step("roof", "...", "...", "..#", "..#", after=("walls",))
    order = order_steps([walls, roof], equal(4))
    assert places(order) == {"walls": 4, "roof": 8}
    assert [one.chance for one in order.placed] == [0.5, 0.5]
    assert order.chance == 0.5


def test_one_crew_does_one_thing_at_a_time():
    """Two steps with the same only hour: one gets it, whichever has more weathers."""
    one = step("one", "#", "#", ".")
    other = step("other", "#", "#", "#")
    order = order_steps([one, other], equal(3))
    assert places(order) == {"other": 0}
    assert order.missing == ("one",)
    assert order.chance == order.chance_all == 0.0


def test_steps_may_follow_each_other_without_a_pause():
    """The quarter hour in which one ends is one in which the next may start."""
    order = order_steps([step("one", "#.#"), step("other", ".#.", after=("one",))], equal(1))
    assert places(order) == {"one": 0, "other": 4}


def test_of_equal_lines_the_one_finished_first_is_taken():
    """All hours hold: the job is done in the first ones, in the order given."""
    order = order_steps([step("one", "#" * 30), step("other", "#" * 30)], equal(1))
    assert places(order) == {"one": 0, "other": 4}


def test_a_night_must_pass():
    """Trim waits one cold night: not the same evening, but the next morning."""
    roof = step("roof", "#", starts=[60])
    trim = step("trim", "###", starts=[70, DAY - 1, DAY], after=("roof",), nights_after=1)
    assert places(order_steps([roof, trim], equal(1))) == {"roof": 60, "trim": DAY}
    short = order_steps([roof, replace(trim, nights_after=2)], equal(1))
    assert short.missing == ("trim",)


def test_the_night_counts_from_the_day_on_which_a_step_ends():
    """A step begun in the evening and ended after midnight has its night still to come."""
    roof = step("roof", "#", starts=[DAY - 2])
    trim = step("trim", "##", starts=[DAY + 20, 2 * DAY], after=("roof",), nights_after=1)
    assert places(order_steps([roof, trim], equal(1)))["trim"] == 2 * DAY


def test_steps_that_are_done_are_not_waited_for():
    """A name that is not among the candidates holds nothing up."""
    trim = step("trim", "#", after=("roof",), nights_after=3)
    assert places(order_steps([trim], equal(1))) == {"trim": 0}


def test_what_is_up_must_stand_until_the_next_start():
    """A wall put up before the gale is lost, one put up after it stands."""
    gale = ["#####..###"]
    walls = step("walls", "#......#.", stands=gale)
    roof = step("roof", "........#", after=("walls",))
    order = order_steps([walls, roof], equal(1))
    assert places(order) == {"walls": 28, "roof": 32}
    assert order.chance == 1.0


def test_only_whole_hours_of_waiting_count():
    """From a quarter past 0 to a quarter to 3 there is one, to a quarter to 2 none."""
    for stands, start, chance in (("#.#", 11, 0.0), (".#.", 11, 1.0), ("...", 7, 1.0)):
        walls = step("walls", "#", starts=[0], takes=1, stands=[stands])
        roof = step("roof", "#", starts=[start], takes=1, after=("walls",))
        assert order_steps([walls, roof], equal(1)).chance == chance


def test_a_step_that_changes_nothing_leaves_what_stood():
    """Cords do not change what the house survives: the roof's state goes on."""
    roof = step("roof", "#", starts=[0], stands=["#####.####"])
    cords = step("cords", "#", starts=[8], after=("roof",))
    sides = step("sides", "##", starts=[20, 28], after=("cords",))
    assert order_steps([roof, cords, sides], equal(1)).placed[-1].start == 20
    later = replace(sides, ok=np.array([[False, True]]))
    assert order_steps([roof, cords, later], equal(1)).chance == 0.0
    closed = replace(cords, stands=np.ones((1, 10), dtype=bool))
    assert order_steps([roof, closed, later], equal(1)).chance == 1.0


def test_a_wait_that_is_never_stood_gives_a_place_and_no_chance():
    """Hours there are, and they are shown; that the house falls before is the chance."""
    walls = step("walls", "#....", "#....", stands=["#.###", "##.##"])
    roof = step("roof", "....#", "....#", after=("walls",))
    order = order_steps([walls, roof], equal(2))
    assert places(order) == {"walls": 0, "roof": 16}
    assert (order.chance, order.chance_all, order.missing) == (0.0, 1.0, ())


def test_the_decided_start_is_kept_and_the_rest_laid_around_it():
    """The roof at hour 3 whatever else is better; walls before it, sides after it."""
    walls = step("walls", "########", "..######")
    roof = step("roof", "########", "....####", after=("walls",))
    sides = step("sides", "########", "########", after=("roof",))
    free = order_steps([walls, roof, sides], equal(2))
    fixed = order_steps([walls, roof, sides], equal(2), first=("roof", 12))
    assert free.chance == 1.0
    assert places(fixed) == {"walls": 0, "roof": 12, "sides": 16}
    assert fixed.chance == 0.5
    assert fixed.chance_all == free.chance_all == 1.0


def test_a_decided_start_comes_before_the_number_of_steps_done():
    """Two others fit only without it: it is kept and one of them is missing."""
    roof = step("roof", "##")
    one, other = step("one", "##"), step("other", "##")
    order = order_steps([one, other, roof], equal(1), first=("roof", 4))
    assert places(order)["roof"] == 4
    assert len(order.missing) == 1


def test_a_decided_start_that_cannot_be_is_missing():
    """No room for the walls before it, or no such start."""
    walls, roof = step("walls", "###"), step("roof", "###", after=("walls",))
    for start in (0, 3, 400):
        order = order_steps([walls, roof], equal(1), first=("roof", start))
        assert places(order) == {"walls": 0}
        assert order.missing == ("roof",)
        assert order.chance == 0.0
        assert order.chance_all == 1.0


def test_a_step_without_hours_takes_only_those_with_it_that_wait_for_it():
    """The roof never holds: sides and trim wait for it, the walls are placed."""
    walls = step("walls", ".#.")
    roof = step("roof", "...", after=("walls",))
    sides = step("sides", "###", after=("roof",))
    order = order_steps([walls, roof, sides], equal(1))
    assert places(order) == {"walls": 4}
    assert order.missing == ("roof", "sides")
    assert order.chance == order.chance_all == 0.0


def test_steps_without_any_allowed_start_are_missing():
    """Past the last day no start is allowed at all."""
    none = replace(step("roof", "#"), starts=np.array([], dtype=int))
    none = replace(none, ends=none.starts, start_days=none.starts, end_days=none.starts)
    order = order_steps([replace(none, ok=np.zeros((1, 0), dtype=bool))], equal(1))
    assert (order.placed, order.missing, order.chance) == ((), ("roof",), 0.0)


def test_a_weather_without_weight_counts_for_nothing():
    """Re-weighed to nothing, a weather is no hour for the roof and no chance."""
    walls = step("walls", "##", "##")
    roof = step("roof", "..", ".#", after=("walls",))
    order = order_steps([walls, roof], np.array([1.0, 0.0]))
    assert places(order) == {"walls": 0}
    assert (order.missing, order.chance_all) == (("roof",), 0.0)


def test_with_nothing_left_to_do_nothing_can_fail():
    """No steps: an empty order that holds."""
    order = order_steps([], equal(3))
    assert (order.placed, order.missing) == ((), ())
    assert order.chance == pytest.approx(1.0)
    assert order.chance_all == pytest.approx(1.0)


def test_steps_in_a_ring_have_no_place():
    """The reader of the job file refuses them; here they do not hang."""
    one, other = step("one", "###", after=("other",)), step("other", "###", after=("one",))
    assert order_steps([one, other, step("third", "#")], equal(1)).missing == ("one", "other")


def test_every_day_has_its_best_start_among_the_few():
    """The walls stand on the ninth day only, when the roof must follow: poor, but a place."""
    days, members = 10, 200
    starts = np.concatenate([day * DAY + np.arange(28, 68) for day in range(days)])
    chance = np.repeat(np.linspace(0.9, 0.3, days), 40)
    ok = np.random.default_rng(7).random((members, len(starts))) < chance
    ninth = np.arange(days * 24) // 24 == 8
    roof_start = 8 * DAY + 60
    walls = replace(
        step("walls", "#" * len(starts), starts=starts, takes=8),
        ok=ok,
        stands=np.tile(ninth, (members, 1)),
    )
    roof = step("roof", *["#"] * members, starts=[roof_start], after=("walls",))
    in_time = (starts >= 8 * DAY) & (starts + 8 <= roof_start)
    order = order_steps([walls, roof], equal(members))
    assert order.chance == pytest.approx(ok[:, in_time].mean(axis=0).max())


def test_a_way_finished_later_may_leave_an_earlier_night():
    """Wall, roof is done sooner, but ends the roof after midnight, and trim needs a night.

    Roof, wall is done later with the roof ended on the first day: trim has its only hour.
    """
    roof = step("roof", "##", starts=[80, 92], takes=8)
    wall = step("wall", "##", starts=[80, 101], takes=8)
    trim = step("trim", "#", starts=[110], after=("roof",), nights_after=1)
    order = order_steps([roof, wall, trim], equal(1))
    assert order.chance_all == 1.0
    assert places(order) == {"roof": 80, "wall": 101, "trim": 110}


def test_lines_that_end_alike_are_told_apart_by_what_is_up():
    """Wall or door may be last of the two; only the wall's state stands the gale."""
    door = step("door", "##", starts=[0, 4], stands=["####.###"])
    wall = step("wall", "##", starts=[0, 4], stands=["########"])
    tidy = step("tidy", "#", starts=[8])
    roof = step("roof", "#", starts=[24], after=("door", "wall", "tidy"))
    for steps in ([door, wall, tidy, roof], [wall, door, tidy, roof]):
        order = order_steps(steps, equal(1))
        assert order.chance == 1.0
        assert places(order) == {"door": 0, "wall": 4, "tidy": 8, "roof": 24}


def test_lines_that_end_alike_are_told_apart_by_their_nights():
    """Roof first lets trim be done before a gale that comes in the second night."""
    roof = step("roof", "##", starts=[80, 92], takes=8)
    wall = step("wall", "##", starts=[80, 101], takes=8)
    gale = ["#" * 35 + "." + "#" * 36]
    tidy = step("tidy", "#", starts=[109], after=("roof", "wall"), stands=gale)
    trim = step("trim", "##", starts=[116, 2 * DAY], after=("roof",), nights_after=1)
    late = replace(trim, after=("roof", "tidy"), nights_after=0)
    order = order_steps([roof, wall, tidy, trim], equal(1))
    assert order.chance == 1.0
    assert places(order) == {"roof": 80, "wall": 101, "tidy": 109, "trim": 116}
    without_night = order_steps([roof, wall, tidy, late], equal(1))
    assert places(without_night) == {"wall": 80, "roof": 92, "tidy": 109, "trim": 116}


def test_lines_that_end_alike_are_told_apart_by_their_weathers():
    """The walls' likelier hour meets the roof's hours one weather at a time."""
    walls = step("walls", "#.", "#.", "#.", ".#", ".#")
    tidy = step("tidy", *["#"] * 5, starts=[8], after=("walls",))
    roof = step("roof", "#..", ".#.", "..#", "#..", "#..", starts=[12, 16, 20], after=("tidy",))
    order = order_steps([walls, tidy, roof], equal(5))
    assert places(order) == {"walls": 4, "tidy": 8, "roof": 12}
    assert order.chance == pytest.approx(0.4)
