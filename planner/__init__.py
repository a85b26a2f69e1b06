"""Which hours to put film on a hoop house, and what stops them.

>>> import planner
>>> planner.make_plan.__name__
'make_plan'
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from planner.job.jobfile import read_job
    from planner.plan.make import make_plan
    from planner.report.screen.first import show
    from planner.weather.read import read_weather

__all__ = ["make_plan", "read_job", "read_weather", "show"]

_WHERE: Final = {
    "make_plan": "planner.plan.make",
    "read_job": "planner.job.jobfile",
    "read_weather": "planner.weather.read",
    "show": "planner.report.screen.first",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for."""
    if name not in _WHERE:
        raise AttributeError(f"module 'planner' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_WHERE[name]), name)
