"""How long the web page takes to answer, as ratios in one run.

    python tests/bench/web.py

From the command to the first page and to the first plan, against importing pandas, pvlib
and matplotlib; and a what-if against the plan it is held beside, both with 500 possible
weathers: medians over turns taken one after the other.
"""

import http.client
import signal
import statistics
import subprocess
import sys
import time
from pathlib import Path

from starlette.testclient import TestClient

from planner.web.app import make_app
from planner.web.desk import Lying
from planner.web.door import Address
from planner.web.uploaded import read_given

ROOT = Path(__file__).parents[2]
JOB, WEATHER = ROOT / "data" / "larkfield.toml", ROOT / "data" / "forecast.csv"
IMPORTS = "import pandas, pvlib, matplotlib.figure, matplotlib.backends.backend_agg"
TURNS = 5


def import_seconds() -> float:
    """Import the three libraries in a fresh Python [s]."""
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", IMPORTS], check=True)
    return time.perf_counter() - start


def first_answer(page: str) -> float:
    """Start the server with job and weather, and wait for one page [s]."""
    start = time.perf_counter()
    server = subprocess.Popen(
        [sys.executable, "-m", "planner", "serve", str(JOB), str(WEATHER)],
        stdout=subprocess.PIPE,
        text=True,
    )
    address = server.stdout.readline().split("http://")[1].strip().rstrip("/")
    connection = http.client.HTTPConnection(address, timeout=60)
    connection.request("GET", page)
    answer = connection.getresponse()
    answer.read()
    took = time.perf_counter() - start
    connection.close()
    server.send_signal(signal.SIGINT)
    server.communicate()
    assert answer.status == 200
    return took


def asked_seconds(*pages: str) -> list[float]:
    """Ask a new application for pages one after the other [s]."""
    lying = Lying(
        job=JOB.read_text(encoding="utf-8"), given=read_given(WEATHER.read_bytes(), "w.csv", {})
    )
    app = make_app(lying, folder=ROOT, address=Address(hosts=frozenset({"testserver"})))
    visitor = TestClient(app)
    times = []
    for page in pages:
        start = time.perf_counter()
        assert visitor.get(page).status_code == 200
        times.append(time.perf_counter() - start)
    return times


def run() -> None:
    """Print medians and ratios."""
    asked_seconds("/plan", "/what-if?crew.people=6")
    names = ("import pandas, pvlib, matplotlib", "first page", "first plan")
    names += ("plan", "what-if after it", "what-if at once", "tension", "slider")
    times: dict[str, list[float]] = {name: [] for name in names}
    for _ in range(TURNS):
        took = [import_seconds(), first_answer("/job"), first_answer("/plan")]
        took += asked_seconds("/plan", "/what-if?crew.people=6")
        took += asked_seconds("/what-if?crew.people=6")
        took += asked_seconds("/tension", "/tension/now?film=48C")
        for name, one in zip(names, took, strict=True):
            times[name].append(one)
    median = {name: statistics.median(took) for name, took in times.items()}
    for name, took in median.items():
        print(f"{name:34} {took:6.3f} s")
    slow, plan = median[names[0]], median["plan"]
    print(f"first page / imports   {median['first page'] / slow:5.2f}  (at most 1.5)")
    print(f"first plan / imports   {median['first plan'] / slow:5.2f}")
    print(f"what-if after / plan   {median['what-if after it'] / plan:5.2f}  (at most 3)")
    print(f"what-if at once / plan {median['what-if at once'] / plan:5.2f}  (at most 3)")


if __name__ == "__main__":
    run()
