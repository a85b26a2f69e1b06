"""A new job file reads back as the job that was asked for."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.errors import JobError, UsageError
from planner.job.jobfile import parse_job
from planner.job.newfile import new_job_text
from planner.job.records import Job

AS_SHOWN = 0.01  # defaults are written to two digits or three
HALF_A_DEGREE = 0.5  # temperatures are written in whole degrees [K]

US = {
    "name": "Heron Bend house 3",
    "place.latitude": 43.9,
    "place.longitude": -91.6,
    "house.width": "30 ft",
    "house.length": "96 ft",
    "crew.people": 5,
}
SI = US | {"house.width": "9 m", "house.length": "29 m", "film.layers": 2}


@pytest.mark.parametrize("answers", [US, SI])
def test_answers_come_back(answers: dict[str, object]) -> None:
    """What was answered is in the job; what was not has its default."""
    job = parse_job(new_job_text(answers))
    assert (job.name, job.place.latitude, job.crew.people) == ("Heron Bend house 3", 43.9, 5)
    assert job.units == ("us" if answers is US else "si")
    assert job.film.layers == answers.get("film.layers", 1)
    assert job.step_patches == job.limits == ()


def shown(job: Job) -> dict[str, float]:
    """Give the numbers of a job that a new file writes as rounded defaults."""
    return {
        "ridge": job.house.ridge,
        "hip": job.house.hip,
        "bow_spacing": job.house.bow_spacing,
        "thickness": job.film.thickness,
        "hold": job.crew.hold,
        "pace": job.crew.pace,
        "sheet_lost": job.stakes.sheet_lost,
        "deadline_missed": job.stakes.deadline_missed,
        "day_waited": job.stakes.day_waited,
        "sent_home": job.stakes.sent_home,
    }


@pytest.mark.parametrize("answers", [US, SI])
def test_taking_the_comment_signs_away_changes_nothing(answers: dict[str, object]) -> None:
    """The defaults shown as comments are the defaults that the reader takes."""
    text = new_job_text(answers)
    plain = parse_job(text)
    opened = parse_job(re.sub(r"(?m)^# (?=(\w+ = |\[))", "", text))
    assert len(opened.limits) == 2
    assert [patch.name for patch in opened.step_patches] == ["end wall north"]
    assert shown(opened) == pytest.approx(shown(plain), rel=AS_SHOWN)
    assert opened.film.stress_free == pytest.approx(plain.film.stress_free, abs=HALF_A_DEGREE)
    same = {
        "place": replace(opened.place, elevation=None),
        "stakes": opened.stakes,
        "thunder_wait": opened.thunder_wait,
    }
    for name, part in same.items():
        assert part == getattr(plain, name), name
    assert (opened.house.profile, opened.house.frame, opened.house.braced) == (
        plain.house.profile,
        plain.house.frame,
        plain.house.braced,
    )
    # Only what has no default at all may still be called assumed.
    assert opened.assumed == ()


def test_every_line_fits_a_screen() -> None:
    """A new file is no wider than a terminal and explains what it comments out."""
    for line in new_job_text(US).splitlines():
        assert len(line) <= 96


def test_bad_and_missing_answers() -> None:
    """A missing answer, one not asked for and one that cannot be used are each refused."""
    with pytest.raises(UsageError, match=r"house\.width is missing"):
        new_job_text({key: one for key, one in US.items() if key != "house.width"})
    with pytest.raises(UsageError, match="not asked for") as caught:
        new_job_text(US | {"house.widht": "3 m"})
    assert "house.width" in caught.value.fix
    with pytest.raises(JobError, match="out of range"):
        new_job_text(US | {"house.width": "3 ft"})
    with pytest.raises(UsageError, match="cannot stand"):
        new_job_text(US | {"crew.pace": object()})


@settings(max_examples=50, deadline=None)
@given(st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=40))
def test_any_name_survives(name: str) -> None:
    """Quotes, backslashes and accents in a name are written so that they read back."""
    assert parse_job(new_job_text(US | {"name": name})).name == name
