"""What to see to before the work: common practice, no source."""

from __future__ import annotations

import math
from dataclasses import replace

from planner.plan.records import Plan
from planner.report.words import Words
from planner.report.yard.checklists import at_first_light, evening_before


def words_for(plan: Plan) -> Words:
    return Words(units="us", time_zone=plan.time_zone)


def test_the_evening_before_knows_the_house(plan: Plan) -> None:
    """Lines to throw and the distance to keep; the fan only where there are two layers."""
    words = words_for(plan)
    text = " ".join(evening_before(plan, words))
    assert f"{plan.hardware.throw_lines} throw lines" in text
    assert "66 ft" in text  # 20.1 m
    assert "Fan" not in text
    double = replace(plan, job=replace(plan.job, film=replace(plan.job.film, layers=2)))
    assert "Fan" in " ".join(evening_before(double, words))


def test_first_light_names_the_lowest_limit_in_the_hand(plan: Plan) -> None:
    """Of all phases, so that a quiet start is not mistaken for a quiet pull."""
    window = plan.decision.window
    assert window is not None
    lowest = min(x.hand_limit for x in window.phases if math.isfinite(x.hand_limit))
    words = words_for(plan)
    text = " ".join(at_first_light(plan, words))
    assert f"under {words.amount(lowest, 'gust')}" in text
    free = tuple(replace(x, gust_limit=math.inf, hand_limit=math.nan) for x in window.phases)
    calm = replace(plan, decision=replace(plan.decision, window=replace(window, phases=free)))
    assert "the limit of the phase in hand" in " ".join(at_first_light(calm, words))
    none = replace(plan, decision=replace(plan.decision, window=None))
    assert "the limit of the phase in hand" in " ".join(at_first_light(none, words))


def test_an_unbraced_frame_is_warned_of(plan: Plan) -> None:
    """End walls alone on it are the dangerous state."""
    loose = replace(plan, job=replace(plan.job, house=replace(plan.job.house, braced=False)))
    assert "Frame not braced" in " ".join(at_first_light(loose, words_for(plan)))
    assert "Frame not braced" not in " ".join(
        at_first_light(
            replace(plan, job=replace(plan.job, house=replace(plan.job.house, braced=True))),
            words_for(plan),
        )
    )
