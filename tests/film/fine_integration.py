"""The worked example of film locked in the heat, by brute force, without the planner.

A second way to the same numbers: its own copy of the material tables, trapezoids a few
hundredths of a degree wide, and the hereditary integral summed over every past step with
the exact power law instead of a sum of exponentials. Run it to see the tables::

    python tests/film/fine_integration.py
"""

from __future__ import annotations

import math
import sys

import numpy as np

EXPANSION = ([-40, -20, 0, 20, 40, 60], [130e-6, 145e-6, 160e-6, 185e-6, 220e-6, 270e-6])
STIFFNESS = ([-40, -20, 0, 10, 23, 40, 60], [1000, 600, 370, 290, 200, 110, 50])  # MPa at 60 s
STEEL = 12e-6
EXPONENT, HEAT, SOFT = 0.10, 110e3, 0.05  # -, J/mol, -
GAS, KELVIN, ROOM = 8.314462618, 273.15, 23.0
HOUR, MINUTE = 3600.0, 60.0
THICKNESS = 150.0  # um, which times MPa is N/m
#: Locked at 55 degC, 14 h to 5 degC, a week there, 24 h to -20 degC, a day there.
CORNERS = ([0.0, 14.0, 182.0, 206.0, 230.0], [55.0, 5.0, 5.0, -20.0, -20.0])


def mismatch(start: float, end: float, frame: float = STEEL) -> float:
    """Growth of the film less the frame's from one temperature to another [-]."""
    temps = np.linspace(start, end, 4001)
    return float(np.trapezoid(np.interp(temps, *EXPANSION) - frame, temps))


def softened(strain):
    """Strain a spring of the small-strain stiffness would need [-]."""
    return strain / (1 + strain / SOFT)


def stiffness(temps):
    """Stiffness a minute after the pull [MPa]."""
    return np.exp(np.interp(temps, STIFFNESS[0], np.log(STIFFNESS[1])))


def course(step_hours: float):
    """Hours and film temperatures of the example, each step alike."""
    hours = np.linspace(0.0, CORNERS[0][-1], round(CORNERS[0][-1] / step_hours) + 1)
    return hours, np.interp(hours, *CORNERS)


def stress(hours, temps, stress_free, *, model, exponent=EXPONENT):
    """Tension at the end of a course that starts at the stress-free temperature [N/m].

    ``model`` is "now" (left-over stiffness of the present temperature), "then" (of the
    temperature at the stretch) or "vertical" (no shift of time at all).
    """
    grid = np.linspace(stress_free, temps.min(), 100_001)
    rate = np.interp(grid, *EXPANSION) - STEEL
    grown = np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2 * np.diff(grid))])
    stretch = softened(np.interp(-temps, -grid, -grown))
    pace = np.ones_like(temps)
    if model != "vertical":
        pace = np.exp(HEAT / GAS * (1 / (ROOM + KELVIN) - 1 / (temps + KELVIN)))
    left = stiffness(temps) / stiffness(ROOM) * pace**exponent
    seconds = np.diff(hours) * HOUR
    passed = np.concatenate([[0.0], np.cumsum((pace[1:] + pace[:-1]) / 2 * seconds)])
    ago = passed[-1] - passed  # reduced seconds before the end
    area = (ago[:-1] ** (1 - exponent) - ago[1:] ** (1 - exponent)) / (1 - exponent)
    mean = stiffness(ROOM) * MINUTE**exponent * area / np.diff(passed)
    counts = (left[1:] + left[:-1]) / 2 if model == "then" else left[-1]
    return float(np.sum(mean * counts * np.diff(stretch)) * THICKNESS)


def tensions(model: str, *, step: float = 0.05, exponent: float = EXPONENT) -> list[float]:
    """Tension at the four corners after the start, in steps of so many hours [N/m]."""
    hours, temps = course(step)
    found = []
    for corner in CORNERS[0][1:]:
        end = round(corner / step) + 1
        past = hours[:end], temps[:end]
        found.append(stress(*past, temps[0], model=model, exponent=exponent))
    return found


def lift(arc: float, radius: float, slack: float) -> float:
    """Lift at the ridge of a longer arc on the same chord, by halving [mm]."""
    chord = 2 * radius * math.sin(arc / radius / 2)
    low, high = arc / radius / 2, math.pi
    for _ in range(200):
        half = (low + high) / 2
        longer = math.sin(half) / half < chord / (arc + slack / 1000)
        low, high = (low, half) if longer else (half, high)
    old = radius * (1 - math.cos(arc / radius / 2))
    new = chord / 2 / math.sin(half) * (1 - math.cos(half))
    return (new - old) * 1000


def parabola_length(span: float, sag: float) -> float:
    """Length of a parabola, summed over a million straight pieces [m]."""
    x = np.linspace(-span / 2, span / 2, 1_000_001)
    y = sag * (1 - (2 * x / span) ** 2)
    return float(np.sum(np.hypot(np.diff(x), np.diff(y))))


def main() -> None:
    """Write the tables to the screen."""
    lines = []
    for start, end in ((55, 5), (55, -20), (5, 55), (25, 55), (10, 45)):
        strain = mismatch(start, end)
        lines.append(f"{start:3} to {end:3} C {100 * strain:7.3f} % {7000 * strain:6.1f} mm")
    for model in ("then", "now", "vertical"):
        lines.append(f"{model:9}" + "".join(f"{x:7.1f}" for x in tensions(model)))
    slow = tensions("vertical", exponent=0.07)
    lines.append("exponent .07, vertical" + "".join(f"{x:7.1f}" for x in slow))
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
