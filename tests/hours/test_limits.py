"""Limits: paired with the right hold, capped, replaced, switched off, traced."""

import pytest

from planner.errors import JobError
from planner.hours.limits import limits_for
from tests.hours.made import job

MM_S = 0.01


def of(the_job, phase, quantity, step="roof sheet"):
    """Give the limits on a quantity in one phase."""
    [the_step] = [s for s in the_job.steps if s.name == step]
    return [x for x in limits_for(the_job, the_step)[phase] if x.quantity == quantity]


def test_gust_with_momentary_hold_and_mean_with_sustained(tmp_path):
    """Both limits are there; the mean one is sqrt(100/150) of the gust one (HSE L23 holds)."""
    the_job = job(tmp_path)
    [gust] = [x for x in of(the_job, "first locks", "gust") if x.kind == "worked out"]
    [mean] = [x for x in of(the_job, "first locks", "mean_wind") if x.kind == "worked out"]
    assert mean.bound / gust.bound == pytest.approx((100 / 150) ** 0.5, abs=1e-6)


@pytest.mark.parametrize(
    ("phase", "expected"),
    [("pull over", 4.3), ("first locks", 3.9), ("lock edge 1", 4.7), ("lock edge 2", 5.3)],
)
def test_gust_limits_of_the_worked_house(tmp_path, phase, expected):
    """A 6 x 15 m house with four people; working values from the phase table, one decimal."""
    [gust] = [x for x in of(job(tmp_path), phase, "gust") if x.kind == "worked out"]
    assert gust.bound == pytest.approx(expected, abs=0.06)


def test_the_ceiling_caps_a_large_crew(tmp_path):
    """Thirty people hold more than practice allows: the ceiling of 4.5 m/s governs.

    Common practice, no source: film goes on only when it is calm.
    """
    limits = of(job(tmp_path), "pull over", "gust")
    assert {x.governs for x in limits} == {True, False}
    many = job(tmp_path)
    from dataclasses import replace

    from planner.hours.house import with_steps

    many = with_steps(replace(many, crew=replace(many.crew, people=30)))
    governing = [x for x in of(many, "pull over", "gust") if x.governs]
    assert [x.bound for x in governing] == [4.5]
    assert governing[0].kind == "practice"


def test_a_typed_gust_replaces_and_both_are_kept(tmp_path):
    """What is typed counts; the worked-out bound stays beside it; the ceiling still caps."""
    typed = job(tmp_path, '[limits."roof sheet"."pull over"]\ngust = "6 m/s"\n')
    by_governs = {x.governs: x for x in of(typed, "pull over", "gust")}
    assert by_governs[False].kind == "yours"
    assert by_governs[False].replaced == pytest.approx(4.3, abs=0.06)
    assert by_governs[True].bound == 4.5


def test_nearest_typed_limit_wins(tmp_path):
    """Phase before step before every phase."""
    the_job = job(
        tmp_path,
        """
[limits]
rain = "1 mm"
[limits."roof sheet"]
rain = "0.5 mm"
[limits."roof sheet"."pull over"]
rain = "0 mm"
""",
    )
    bounds = [
        of(the_job, phase, "rain", step)[0].bound
        for step, phase in (
            ("trim", "trim edges"),
            ("roof sheet", "lay out"),
            ("roof sheet", "pull over"),
        )
    ]
    assert bounds == [1.0, 0.5, 0.0]


def test_off_drops_a_limit(tmp_path):
    """A limit that is off is in no phase."""
    the_job = job(tmp_path, '[limits]\nair = "off"\nheat = "off"\nwet = "off"\nlight = "off"\n')
    for step in the_job.steps:
        for limits in limits_for(the_job, step).values():
            assert not {x.quantity for x in limits} & {
                "temp_air",
                "heat",
                "wetness",
                "frost",
                "light",
            }


def test_a_limit_for_a_step_that_is_not_there_is_refused(tmp_path):
    """No limit is silently ignored: the nearest name is given."""
    with pytest.raises(JobError, match="roof sheet"):
        job(tmp_path, '[limits."roof shet"]\nrain = "0 mm"\n')


def test_open_ends_lower_the_roof_limits(tmp_path):
    """Without end walls, wind along the ridge gets in: limits at 0.78 (working value)."""
    skipped = '[steps."end wall north"]\nskip = true\n[steps."end wall south"]\nskip = true\n'
    [closed] = [x for x in of(job(tmp_path), "first locks", "gust") if x.kind == "worked out"]
    [opened] = [
        x for x in of(job(tmp_path, skipped), "first locks", "gust") if x.kind == "worked out"
    ]
    assert opened.bound / closed.bound == pytest.approx(0.78, abs=MM_S)


def test_every_limit_says_where_it_comes_from(tmp_path):
    """Kind and source are never empty; one limit of a side governs."""
    the_job = job(tmp_path)
    for step in the_job.steps:
        for limits in limits_for(the_job, step).values():
            assert all(x.kind and x.source for x in limits)
            governing = [(x.quantity, x.side) for x in limits if x.governs]
            assert len(governing) == len(set(governing))
            assert {x.quantity for x in limits} >= {"gust", "rain", "temp_air", "crew_hours"}


def test_one_person_manages_an_end_wall_but_not_a_roof(tmp_path):
    """On a calm day one person holds an end wall; a roof sheet in a light breeze wants more.

    Common practice, no source. Calm: up to 1.5 m/s, light breeze: 3.3 m/s (Beaufort 1
    and 2, WMO code 1100).
    """
    from dataclasses import replace

    from planner.hours.house import with_steps

    def held(people, step, phase):
        the_job = job(tmp_path)
        the_job = with_steps(replace(the_job, crew=replace(the_job.crew, people=people)))
        return min(x.bound for x in of(the_job, phase, "gust", step))

    assert held(1, "end wall north", "hang and clip") > 1.5
    assert held(1, "roof sheet", "first locks") < 3.3
    assert held(3, "roof sheet", "first locks") > 3.3


def test_work_it_out_is_what_it_says(tmp_path):
    """The word gives the limits that there would be without it, for all three keys."""
    asked = '[limits]\nheat = "work it out"\ngust = "work it out"\nmean = "work it out"\n'
    plain, typed = job(tmp_path), job(tmp_path, asked)
    for a, b in zip(plain.steps, typed.steps, strict=True):
        assert limits_for(plain, a) == limits_for(typed, b)


def test_what_is_typed_for_all_does_not_loosen_what_a_phase_asks(tmp_path):
    """A higher ceiling, rain and damp film for every phase leave loose film and ladders be."""
    typed = '[limits]\ngust_ceiling = "11 m/s"\nrain = "2 mm"\nwet = "damp"\n'
    loose = job(tmp_path, typed)
    assert [x.bound for x in of(loose, "pull over", "gust") if x.kind == "practice"] == [4.5]
    assert of(loose, "pull over", "rain")[0].bound == 0.0
    assert of(loose, "lock ends", "wetness")
    own = '[limits."roof sheet"."pull over"]\ngust_ceiling = "6 m/s"\nrain = "2 mm"\n'
    assert of(job(tmp_path, own), "pull over", "rain")[0].bound == 2.0
