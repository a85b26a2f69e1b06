"""Spells among chances drawn as digits: '7' holds in 70 of 100, '-' is not open."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.hours.spells import Spell, find_spells

SLACK, LEAST, MOST = 5, 10, 12  # hundredths, hundredths, spells


def spells(hundredths, *, length=2, room=None, closed=()):
    """Find spells of a step that lasts some starts; give (first, best, last)."""
    count = len(hundredths)
    open_to = np.ones(count, dtype=bool)
    open_to[list(closed)] = False
    found = find_spells(
        np.array(hundredths) / 100.0,
        np.zeros(count) if room is None else np.array(room),
        np.arange(count) + float(length),
        open_to=open_to,
    )
    return [(spell.first, spell.best, spell.last) for spell in found]


def test_the_range_goes_as_far_as_the_chance_keeps_up():
    """Five in a hundred less belongs to it, six does not."""
    assert spells([60, 74, 75, 80, 78, 75, 74, 60]) == [(2, 3, 5)]


def test_the_range_of_a_go_has_no_start_that_is_none():
    """Under 70 of 100 nobody is sent out: 69 does not belong to 73, though 68 does to 69."""
    assert spells([60, 69, 73, 70, 69, 60]) == [(2, 2, 3)]
    assert spells([60, 68, 69, 66, 60]) == [(1, 2, 3)]


def test_the_slope_beside_a_hump_is_no_spell():
    """After the best start the chance only falls: there is nothing else to name."""
    assert spells([90, 80, 70, 60, 50, 40, 30, 20, 10]) == [(0, 0, 0)]


def test_a_shelf_on_the_slope_is_no_spell():
    """Two starts of the same chance below a higher one are still the slope."""
    assert spells([90, 70, 60, 50, 50, 50, 40, 20]) == [(0, 0, 0)]


def test_two_humps_are_two_spells():
    """Morning and evening, the likelier first."""
    assert spells([50, 60, 50, 20, 20, 60, 80, 70]) == [(6, 6, 6), (1, 1, 1)]


def test_a_hump_under_way_in_the_best_one_is_not_named():
    """It would begin before the better one has ended."""
    assert spells([90, 60, 70, 60, 10, 10], length=3) == [(0, 0, 0)]
    assert spells([90, 60, 70, 60, 10, 10], length=2) == [(0, 0, 0), (2, 2, 2)]
    assert spells([10, 60, 70, 60, 90, 10], length=3) == [(4, 4, 4)]


def test_what_is_left_of_a_level_hump_is_named():
    """Of a stretch of the same chance the starts after the better one's end are still good."""
    assert spells([90, 50, 80, 80, 80, 10], length=4) == [(0, 0, 0), (2, 4, 4)]


def test_a_range_does_not_run_into_another():
    """Between two humps close together every start belongs to one of them."""
    assert spells([80, 78, 79, 84], length=1) == [(2, 3, 3), (0, 0, 1)]
    assert spells([80, 77, 79, 78, 84, 80, 79]) == [(4, 4, 6), (0, 0, 3)]


def test_room_then_the_earlier_decides_between_equals():
    """Chances equal to one in a hundred are told apart by room to the limits."""
    assert spells([50, 50, 50], room=[0.1, 0.3, 0.3]) == [(0, 1, 2)]
    assert spells([50.4, 49.6, 50.0], room=[0.1, 0.1, 0.2]) == [(0, 2, 2)]


def test_unlikely_starts_are_not_listed():
    """Ten in a hundred is, nine is not."""
    assert spells([0, 9, 0, 0, 0, 10, 0, 0]) == [(5, 5, 5)]
    assert spells([0, 9, 0]) == []


def test_starts_that_are_not_open_hide_nothing():
    """The first start left today is the best one though an earlier one was better."""
    assert spells([90, 80, 70, 60], closed=[0, 1]) == [(2, 2, 2)]
    assert spells([50, 50, 50, 50], closed=[1], length=1) == [(0, 0, 0), (2, 2, 3)]


def test_a_long_list_ends_unless_windows_are_as_good_as_the_best():
    """Fourteen humps: all of them at the same chance, twelve at falling ones."""
    level = [50, 0] * 14
    falling = [x for at in range(14) for x in (90 - 3 * at, 0)]
    assert len(spells(level, length=1)) == 14
    assert len(spells(falling, length=1)) == 12


@given(st.lists(st.booleans(), min_size=1, max_size=40), st.data())
def test_one_certain_weather_gives_runs_of_starts(holds, data):
    """Every run of starts that hold is one spell, named by its roomiest, earliest start."""
    room = data.draw(
        st.lists(st.sampled_from([0.1, 0.2, 0.3]), min_size=len(holds), max_size=len(holds))
    )
    runs, at = [], 0
    while at < len(holds):
        after = at
        while after < len(holds) and holds[after]:
            after += 1
        if after > at:
            best = min(range(at, after), key=lambda start: (-room[start], start))
            runs.append((at, best, after - 1))
        at = after + 1
    got = spells([100 * hold for hold in holds], length=1, room=room)
    assert sorted(got) == runs


def local_best(chances, at):
    """Whether the first other chance on either side is a lower one."""
    for step in (-1, 1):
        beside = at
        while 0 <= beside < len(chances) and chances[beside] == chances[at]:
            beside += step
        if 0 <= beside < len(chances) and chances[beside] > chances[at]:
            return False
    return True


@given(
    st.lists(st.integers(0, 100), min_size=1, max_size=40),
    st.integers(1, 6),
    st.sets(st.integers(0, 39)),
)
def test_the_rule_on_any_chances(chances, length, closed):
    """Bests do not overlap, ranges keep within the slack, and no hump is forgotten."""
    closed = {at for at in closed if at < len(chances)}
    open_chances = [-1 if at in closed else chance for at, chance in enumerate(chances)]
    found = spells(chances, length=length, closed=closed)
    bests = [best for _, best, _ in found]
    assert [open_chances[best] for best in bests] == sorted(
        (open_chances[best] for best in bests), reverse=True
    )
    assert all(abs(one - two) >= length for one in bests for two in bests if one != two)
    in_range = [at for first, _, last in found for at in range(first, last + 1)]
    assert len(in_range) == len(set(in_range))
    for first, best, last in found:
        assert first <= best <= last
        assert local_best(open_chances, best)
        for at in range(first, last + 1):
            assert open_chances[best] - SLACK <= open_chances[at] <= open_chances[best]
    for at, chance in enumerate(open_chances):
        taken = at in in_range or any(abs(at - best) < length for best in bests)
        if len(found) < MOST:
            assert taken or chance < LEAST or not local_best(open_chances, at)


def test_a_spell_is_a_plain_record():
    """Two spells of the same starts are the same."""
    [spell] = find_spells(np.ones(3), np.zeros(3), np.arange(3) + 1.0, open_to=np.ones(3, bool))
    assert spell == Spell(best=0, first=0, last=2)
    with pytest.raises(AttributeError):
        spell.best = 1
