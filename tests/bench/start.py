"""How long the command line takes to start and to answer, as ratios in one run.

    python tests/bench/start.py

``planner --help`` against a bare Python, and ``planner windows`` on the demo against
importing pandas, pvlib and matplotlib: medians over turns taken one after the other.
"""

import statistics
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
TURNS = 9
PLANNER = "from planner.__main__ import main; main()"
DEMO = ["windows", "data/larkfield.toml", "data/forecast.csv"]
COMMANDS = {
    "bare python": ["-c", "pass"],
    "planner --help": ["-c", PLANNER, "--help"],
    "import pandas, pvlib, matplotlib": [
        "-c",
        "import pandas, pvlib, matplotlib.figure, matplotlib.backends.backend_agg",
    ],
    "planner windows": ["-c", PLANNER, *DEMO],
}


def seconds(arguments: list[str]) -> float:
    """Run Python with these arguments and give the wall time [s]."""
    start = time.perf_counter()
    subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, stdout=subprocess.DEVNULL, check=True
    )
    return time.perf_counter() - start


def run() -> None:
    """Print medians and the two ratios."""
    times = {name: [] for name in COMMANDS}
    for turn in range(TURNS + 1):
        for name, arguments in COMMANDS.items():
            took = seconds(arguments)
            if turn:
                times[name].append(took)
    median = {name: statistics.median(took) for name, took in times.items()}
    for name, took in median.items():
        print(f"{name:34} {took:6.3f} s")
    started = median["planner --help"] / median["bare python"]
    print(f"help / bare        {started:5.2f}  (at most 4)")
    slow = median["import pandas, pvlib, matplotlib"]
    print(f"windows / imports  {median['planner windows'] / slow:5.2f}  (at most 1.5)")


if __name__ == "__main__":
    run()
