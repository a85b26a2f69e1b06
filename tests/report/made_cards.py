"""Plans made by hand whose card is hard to print: crowded, with strange or hostile names."""

from __future__ import annotations

from dataclasses import replace

from planner.plan.records import Plan
from tests.report import made_chances
from tests.report.conftest import CASES, ROOF_LIMITS, at, forecast_plan, pulled, with_roof

MADE = {
    **{name: (lambda make=make: make(forecast_plan())) for name, make in CASES.items()},
    **{f"chances: {name}": make for name, make in made_chances.CASES.items()},
}
NAMES = {
    "mathematics": r"House $x^2$ and \frac{1}{2} of 100 % #1 & more",
    "page marks": '<b onload="x">House</b> &amp; &lt; "two" \'three\' {0} %s',
    "long": "The third house behind the second barn on the left of the lower lane " * 4,
    "one word": "H" * 240,
    "cyrillic": "Теплица Южная № 3",
    "latin": "Tunnel Süd, Ærø, Łąka",
    "right to left": "بيت 3 בית",
    "no letters for it": "温室 three 🌱",
    "combining": "Cafe\u0301 \u200b\u202etxet",
}


def named(name: str) -> Plan:
    """The plan with a pull, for a house of that name."""
    plan = pulled(forecast_plan())
    return replace(plan, job=replace(plan.job, name=name))


def crowded(count: int, name: str = "lock edge {} of the second layer, north side") -> Plan:
    """A roof sheet of so many phases, each with a long name of its own, and a pull chart."""
    plan = pulled(forecast_plan())
    window = plan.decision.window
    assert window is not None
    phases = tuple(
        replace(window.phases[number % 4], phase=name.format(number), beaufort=number % 7)
        for number in range(count)
    )
    plan = with_roof(plan, (replace(window, phases=phases),))
    end_wall, roof = plan.steps
    limits = {x.phase: ROOF_LIMITS["pull over"] for x in phases}
    return replace(
        plan, steps=(end_wall, replace(roof, found=replace(roof.found, limits=limits)))
    )


def current(plan: Plan) -> Plan:
    """The same, with a time until which it may be used."""
    return replace(plan, use_until=at("2031-04-29 20:00"))
