"""The verb: what it prints, where it listens, and what it refuses."""

import builtins
import http.client
import socket
import subprocess
import sys

import pytest
from click.testing import CliRunner

from planner import serve_verb
from planner.errors import JobError, PlannerError, UsageError, WeatherError
from planner.serve_verb import serve
from tests.web.made_app import DATA

DEMO = [str(DATA / "larkfield.toml"), str(DATA / "forecast.csv")]


@pytest.fixture
def started(monkeypatch):
    """Run the verb up to where it would answer; give what it printed and its application."""
    ran = []

    def run(app, listening):
        ran.append((app, listening.getsockname()))
        listening.close()

    monkeypatch.setattr(serve_verb, "_run", run)

    def start(*typed):
        done = CliRunner().invoke(serve, list(typed))
        if done.exception is not None:
            raise done.exception
        return done.output, *ran.pop()

    return start


def test_it_answers_on_this_computer_only(started):
    """The address is printed, no key is needed, and a taken port makes way for the next."""
    said, _, where = started()
    assert where[0] == "127.0.0.1"
    assert f"http://127.0.0.1:{where[1]}/\n" in said
    assert "key" not in said
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(UsageError, match="cannot answer") as caught:
            started("--port", str(taken.getsockname()[1]))
        assert caught.value.exit_code == 1


def test_the_next_free_port_is_taken(started, monkeypatch):
    """Two planners at once."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        monkeypatch.setattr(serve_verb, "_PORT", taken.getsockname()[1])
        _, _, where = started()
        assert 0 < where[1] - taken.getsockname()[1] < 20


def test_an_address_for_phones_carries_a_key(started):
    """Another key each time; all addresses at once are refused."""
    keys = set()
    for _ in range(2):
        said, _, where = started("--host", "localhost")
        address = said.split("The planner is at ")[1].split()[0]
        assert address.startswith(f"http://localhost:{where[1]}/?key=")
        keys.add(address.split("=")[1])
    assert len(keys) == 2
    assert min(map(len, keys)) >= 20
    for everywhere in ("0.0.0.0", "::"):
        with pytest.raises(UsageError, match="one address") as caught:
            started("--host", everywhere)
        assert "--host" in caught.value.fix


def test_what_lies_on_the_desk_is_checked_first(started, tmp_path):
    """A broken job or weather file is said on the command line, with its exit code."""
    assert started(*DEMO)
    bad = tmp_path / "bad.toml"
    bad.write_text("[film", encoding="utf-8")
    with pytest.raises(JobError) as job:
        started(str(bad))
    assert (job.value.exit_code, job.value.file) == (2, str(bad))
    with pytest.raises(WeatherError) as weather:
        started(DEMO[0], str(tmp_path / "none.csv"))
    assert weather.value.exit_code == 3
    broken = tmp_path / "broken.csv"
    broken.write_text("nothing", encoding="utf-8")
    with pytest.raises(WeatherError) as weather:
        started(DEMO[0], str(broken))
    assert weather.value.file == str(broken)


@pytest.mark.parametrize("missing", ["fastapi", "uvicorn", "python_multipart"])
def test_without_the_extra_it_says_what_to_install(monkeypatch, missing):
    """Two lines, exit 1."""
    there = builtins.__import__

    def without(name, *args, **more):
        if name == missing:
            raise ImportError("not there", name=missing)
        return there(name, *args, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    done = CliRunner().invoke(serve, [])
    assert isinstance(done.exception, PlannerError)
    assert done.exception.exit_code == 1
    lines = str(done.exception).splitlines()
    assert len(lines) == 2
    assert missing in lines[0]
    assert 'pip install ".[web]"' in lines[1]


def test_a_real_server_answers_and_stops():
    """From the command to the first page, and Ctrl-C ends it with words."""
    import signal

    server = subprocess.Popen(
        [sys.executable, "-m", "planner", "serve", *DEMO],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        address = server.stdout.readline().split("http://")[1].strip().rstrip("/")
        connection = http.client.HTTPConnection(address, timeout=60)
        connection.request("GET", "/job")
        answer = connection.getresponse()
        text = answer.read().decode()
        connection.close()
        assert answer.status == 200
        assert "Larkfield" in text
        assert "server" not in {x.lower() for x, _ in answer.getheaders()}
    finally:
        server.send_signal(signal.SIGINT)
        said, complained = server.communicate(timeout=30)
    assert server.returncode == 0
    assert "Stopped" in said
    assert complained == ""


def test_nothing_slow_is_loaded_before_it_is_needed():
    """Making the application loads neither tables nor pictures nor the sun."""
    code = (
        "import sys; from pathlib import Path; from planner.web.app import make_app;"
        "from planner.web.door import Address; "
        "make_app(folder=Path(), address=Address(hosts=frozenset()));"
        "print([x for x in ('pandas', 'pvlib', 'matplotlib') if x in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
