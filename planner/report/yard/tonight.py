"""What stands when the crew is gone: until the window, and after it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.reference.tables import value
from planner.report import words as say
from planner.report.answer.answer import stands_to

if TYPE_CHECKING:
    from planner.plan.records import Plan
    from planner.report.words import Words


def tonight(plan: Plan, words: Words) -> tuple[str, ...]:
    """Say what gust is survived by what is up, now and after the work, and how likely.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of str
        One sentence each; empty where nothing is known of either.
    """
    decision, window = plan.decision, plan.decision.window
    many = plan.weather.members > 1
    lines = []
    up = stands_to(plan.job)
    if up is not None:
        said = f"What is up now stands to {words.amount(up, 'gust')}"
        if decision.stands is not None and window is not None and many:
            until = words.moment(window.start)
            said += f"; until {until} that is enough in {say.of_100(decision.stands)}"
        lines.append(f"{said}.")
    if window is not None and window.leave_gust is not None:
        said = (
            f"Left alone after the work it stands to {words.amount(window.leave_gust, 'gust')}"
        )
        if many and window.leave_chance is not None:
            hours = value("planning", "leave_hours")
            said += f"; for {hours:.0f} h that is enough in {say.of_100(window.leave_chance)}"
        lines.append(f"{said}.")
        lines.append("Doors shut, or both ends treated alike, before anybody leaves.")
    return tuple(lines)
