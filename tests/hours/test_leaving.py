"""What is up, left alone: in how many possible weathers it stands until the crew is back."""

from dataclasses import replace

import numpy as np
import pytest

from planner.hours.leaving import left_alone, stands
from planner.hours.spans import spans
from tests.hours.drawn import CALM, WINDY, hours, step


def last_span(*minutes, survives=4.0):
    """Give the last phase of a step on the clock, with the gust its state survives."""
    the_step = step(*minutes)
    last = replace(the_step.phases[-1], leave_gust=survives)
    return spans(replace(the_step, phases=(*the_step.phases[:-1], last)))[-1]


def test_the_share_that_stands_until_the_crew_is_back():
    """Wind six hours after the end counts when the crew is back in seven, not in six."""
    conditions = hours("########....", "############")
    alone = {until: left_alone(conditions, last_span(120), 0, until=until) for until in (6, 7)}
    assert [alone[until].chance for until in (6, 7)] == [1.0, 0.5]
    assert left_alone(conditions, last_span(120), 0).chance == 0.5  # a day by default


def test_the_hour_in_which_the_step_ends_is_the_crew_s_own():
    """A step that ends at half past is left to the hours after; so is one on the hour."""
    conditions = hours("#.##", ".###")
    assert left_alone(conditions, last_span(30), 0).chance == 0.5
    assert left_alone(conditions, last_span(60), 0).chance == 0.5
    assert left_alone(conditions, last_span(90), 0).chance == 1.0


def test_an_hour_without_data_does_not_stand():
    """Nobody knows whether it does."""
    assert left_alone(hours("####", "##?#"), last_span(60), 0).chance == 0.5


def test_members_one_by_one():
    """On drawn gusts the share, and the worst that nine in ten stay below, by a plain loop."""
    draw = np.random.default_rng(4)
    gust = draw.uniform(0.0, 8.0, (40, 60)) * draw.uniform(0.3, 1.0, (40, 1))
    conditions = hours(*["#" * 60] * 40, gust=gust)
    alone = left_alone(conditions, last_span(150, survives=6.0), 9, until=24)
    coming = [own[5 : 5 + 24] for own in gust]  # 02:15 and two hours and a half: from 05:00
    assert alone.chance == pytest.approx(np.mean([max(own) <= 6.0 for own in coming]))
    largest = sorted(max(own) for own in coming)
    assert alone.worst == pytest.approx(largest[35])
    assert sum(x <= alone.worst for x in largest) == 36


def test_one_certain_weather_is_held_against_the_whole_file():
    """The worst gust of the file is told, be it days ahead; the chance is yes or no."""
    conditions = hours("#" * 40 + ".")
    alone = left_alone(conditions, last_span(60), 0)
    assert (alone.worst, alone.fails, alone.chance) == (WINDY, 40, 1.0)
    assert left_alone(conditions, last_span(60), 4 * 16).chance == 0.0


def test_what_is_never_left_has_no_chance():
    """Neither has a step at whose end the file is over."""
    conditions = hours("####", "...#")
    loose = left_alone(conditions, last_span(60, survives=None), 0)
    assert (loose.survives, loose.chance, loose.fails) == (None, None, None)
    over = left_alone(conditions, last_span(240), 0)
    assert (over.chance, over.fails) == (None, None)
    assert np.isnan(over.worst)


def test_hours_in_which_it_stands():
    """By member and hour; not without data, and never for a state that must not be left."""
    conditions = hours("#.?#", "####")
    last = last_span(60).phase
    assert stands(conditions, last).tolist() == [[True, False, False, True], [True] * 4]
    assert not stands(conditions, replace(last, leave_gust=None)).any()
    one_row = hours("##", "##", gust=np.array([[CALM, WINDY]]))
    assert stands(one_row, last).tolist() == [[True, False]] * 2
