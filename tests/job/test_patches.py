"""What the job file says about steps and phases, laid over the built-in ones."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.errors import JobError
from planner.job.jobfile import parse_job
from planner.job.records import Job, Step
from planner.job.steps import Sizes, apply_patches, built_in_steps, check_limit_names

JOB = """\
name = "Heron Bend house 3"
[place]
latitude = 43.9
longitude = -91.6
[house]
width = "6 m"
length = "15 m"
[crew]
people = 4
"""
FIRST_LINE = 10  # of what a test adds
SIZES = Sizes(
    roof_area=127.0,
    end_wall_area=23.76,
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


def with_steps(added: str, *, people: int | None = None) -> Job:
    """Read the job with lines added, and give it its steps as the hours room does."""
    job = parse_job(JOB + added, file="job.toml")
    if people is not None:
        job = replace(job, crew=replace(job.crew, people=people))
    steps = apply_patches(built_in_steps(job, SIZES), job.step_patches, job=job, sizes=SIZES)
    job = replace(job, steps=steps)
    check_limit_names(job)
    return job


def steps_of(added: str, *, people: int | None = None) -> dict[str, Step]:
    """Give the steps of the job with lines added, by name."""
    return {step.name: step for step in with_steps(added, people=people).steps}


def test_nothing_said_leaves_all_but_stripping() -> None:
    """Without a word in the file the built-in steps stand, old film left out."""
    steps = steps_of("")
    assert next(iter(steps)) == "end wall north"
    assert "strip old film" not in steps
    assert steps["end wall north"].after == ()


def test_stripping_comes_first_when_asked_for() -> None:
    """skip = false brings a left-out step back, and the end walls wait for it."""
    steps = steps_of('[steps."strip old film"]\nskip = false\n')
    assert next(iter(steps)) == "strip old film"
    assert steps["end wall south"].after == ("strip old film",)


def test_a_phase_is_patched_by_name() -> None:
    """Typed values replace the built-in ones; a share is a share of the step's own sheet."""
    built = {phase.name: phase for phase in steps_of("")["roof sheet"].phases}
    patched = {
        phase.name: phase
        for phase in steps_of(
            '[steps."roof sheet".phases."pull over"]\n'
            'time = "20 min"\nhands = 3\nloose = 0.5\ndrag = 0.8\nheight = "12 ft"\n'
            'leave_gust = "2 m/s"\n'
            '[steps."roof sheet".phases."lock ends"]\nleave_gust = "no"\n'
        )["roof sheet"].phases
    }
    over = patched["pull over"]
    assert (over.minutes, over.hands, over.drag, over.leave_gust) == (20.0, 3, 0.8, 2.0)
    assert over.loose_area == pytest.approx(63.5)
    assert over.height == pytest.approx(3.6576)
    assert over.gust_ceiling == built["pull over"].gust_ceiling
    assert patched["lock ends"].leave_gust is None
    assert list(patched) == list(built)
    assert patched["first locks"] == built["first locks"]


def test_other_hands_do_the_same_work() -> None:
    """Hands without a time keep the person-minutes; a smaller crew cuts typed hands."""
    added = '[steps."roof sheet".phases."lock ends"]\nhands = 3\n'
    before = {phase.name: phase for phase in steps_of("")["roof sheet"].phases}["lock ends"]
    for people, hands in ((None, 3), (2, 2)):
        phases = steps_of(added, people=people)["roof sheet"].phases
        after = {phase.name: phase for phase in phases}["lock ends"]
        assert after.hands == hands
        assert after.minutes * hands == pytest.approx(before.minutes * before.hands)


def test_what_waited_for_a_skipped_step_waits_for_what_that_waited_for() -> None:
    """Skipping the roof does not let the trim go before the end walls."""
    steps = steps_of('[steps."roof sheet"]\nskip = true\n')
    assert "roof sheet" not in steps
    assert steps["trim"].after == ("end wall north", "end wall south")


def test_a_finished_step_stays_and_says_so() -> None:
    """done = true is kept, so that what waits for it knows."""
    steps = steps_of('[steps."end wall north"]\ndone = true\n')
    assert steps["end wall north"].done
    assert not steps["end wall south"].done


def test_new_steps_follow_in_the_order_of_the_file() -> None:
    """A new step comes after the built-in ones, with the phases that it says."""
    phase = 'time = "40 min"\nhands = 2\nloose = 0.5\ndrag = 1.2\n'
    steps = steps_of(
        f'[steps."vent flap"]\nsheet = "side"\nafter = ["shade cloth"]\n'
        f'[steps."vent flap".phases.hang]\n{phase}'
        f'[steps."shade cloth".phases.drape]\n{phase}leave_gust = "9 m/s"\n'
    )
    assert list(steps)[-2:] == ["vent flap", "shade cloth"]
    hang = steps["vent flap"].phases[0]
    assert hang.loose_area == pytest.approx(11.7)
    assert (hang.minutes, hang.hands, hang.leave_gust) == (40.0, 2, None)
    assert steps["shade cloth"].phases[0].loose_area == pytest.approx(63.5)


def test_a_new_phase_follows_those_of_its_step() -> None:
    """A new phase of a built-in step comes last in it."""
    phases = steps_of(
        '[steps.trim.phases."tape seams"]\ntime = "15 min"\nhands = 1\nloose = 0\ndrag = 0\n'
    )["trim"].phases
    assert [phase.name for phase in phases] == ["trim edges", "tape seams"]
    assert phases[1].gust_ceiling == pytest.approx(11.6)


WRONG = {
    "misspelt step": (
        '[steps."roof shet"]\ndone = true\n',
        0,
        'steps."roof shet"',
        'no step "roof shet"',
        '"roof sheet"',
    ),
    "step in capitals": (
        '[steps."Roof Sheet"]\ndone = true\n',
        0,
        'steps."Roof Sheet"',
        "no step",
        '"roof sheet"',
    ),
    "new step without phases": (
        "[steps.weeding]\ndone = true\n",
        0,
        "steps.weeding",
        "without phases",
        "roof sheet",
    ),
    "misspelt phase": (
        '[steps."roof sheet".phases."pull ovr"]\nhands = 2\n',
        0,
        'steps."roof sheet".phases."pull ovr"',
        "no phase",
        '"pull over"',
    ),
    "new phase that lacks something": (
        '[steps."roof sheet".phases.singing]\nhands = 2\nloose = 0.1\n',
        0,
        'steps."roof sheet".phases.singing',
        "lacks time, drag",
        "pull over",
    ),
    "waiting for nothing": (
        '[steps.trim]\nafter = ["roof sheat"]\n',
        0,
        "steps.trim.after",
        'no step "roof sheat"',
        "roof sheet",
    ),
    "waiting in a ring": (
        '[steps."roof sheet"]\nafter = ["trim"]\n',
        0,
        None,
        "wait for each other",
        "after",
    ),
    "waiting for itself": (
        '[steps.trim]\nafter = ["trim"]\n',
        0,
        "steps.trim.after",
        "wait for each other: trim",
        "after",
    ),
    "limit of a misspelt step": (
        '[limits."roof shet"]\nwet = "dry"\n',
        1,
        'limits."roof shet".wet',
        'no step "roof shet"',
        "roof sheet",
    ),
    "limit of a misspelt phase": (
        '[limits."roof sheet"."pul over"]\nwet = "dry"\n',
        1,
        'limits."roof sheet"."pul over".wet',
        'no phase "pul over"',
        "pull over",
    ),
    "limit of a step that is left out": (
        '[limits."strip old film"]\nwet = "dry"\n',
        1,
        'limits."strip old film".wet',
        "no step",
        "skip = false",
    ),
}


@pytest.mark.parametrize("case", WRONG)
def test_wrong_names_are_refused(case: str) -> None:
    """A wrong name is refused with file, line, key and the nearest right one."""
    added, line, key, message, fix = WRONG[case]
    with pytest.raises(JobError) as caught:
        with_steps(added)
    error = caught.value
    assert (error.file, error.line) == ("job.toml", FIRST_LINE + line)
    assert key is None or error.key == key
    assert message in error.message
    assert fix in error.fix


def test_limits_of_a_skipped_step_may_stay() -> None:
    """A step that is skipped for now keeps its limits in the file."""
    job = with_steps('[steps.trim]\nskip = true\n[limits.trim]\nwet = "dry"\n')
    assert [limit.step for limit in job.limits] == ["trim"]
