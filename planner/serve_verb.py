"""The verb ``serve``: the planner as a local web page, for those who type no commands."""

from __future__ import annotations

import contextlib
import secrets
import socket
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from planner.errors import PlannerError, UsageError
from planner.typed import reading_options, weather_options

if TYPE_CHECKING:
    from planner.web.desk import Lying

_LOOPBACK: Final = "127.0.0.1"
_PORT: Final = 8765
_WEB: Final = 80
_TRIED: Final = 20  # ports, one after the other
_ANY: Final = frozenset({"0.0.0.0", "::", "*", ""})


@click.command(short_help="The planner as a local web page.")
@click.argument("job", required=False)
@click.argument("weather", required=False)
@click.option("--port", type=click.IntRange(1, 65535), help=f"{_PORT} or the next free one.")
@click.option("--host", help="Let phones in at this address of the computer; needs the key.")
@click.option("--open", "opened", is_flag=True, help="Open it in the browser.")
@weather_options
def serve(
    job: str | None,
    weather: str | None,
    port: int | None,
    host: str | None,
    opened: bool,
    **reading: str | None,
) -> None:
    """Show the planner as a web page on this computer, with JOB and WEATHER on its desk."""
    _check_extra()
    from planner.web.app import make_app
    from planner.web.door import Address

    lying = _lying(job, weather, reading_options(reading))
    listening = _listen(host or _LOOPBACK, port)
    name = _written(host or _LOOPBACK)
    number = listening.getsockname()[1]
    names = {name} if host else {_LOOPBACK, "localhost", "[::1]"}
    hosts = {f"{x}:{number}".lower() for x in names}
    if number == _WEB:  # browsers leave this port out
        hosts |= {x.lower() for x in names}
    key = secrets.token_urlsafe(16) if host else None
    app = make_app(
        lying,
        folder=Path(job).resolve().parent if job else Path.cwd(),
        address=Address(hosts=frozenset(hosts), key=key),
    )
    address = f"http://{name}:{number}/" + (f"?key={key}" if key else "")
    click.echo(f"The planner is at {address}")
    if key:
        click.echo("Whoever has this address can use it and save job files in this folder.")
    click.echo("Stop it with Ctrl-C.")
    if opened:
        import webbrowser

        webbrowser.open(address)
    _run(app, listening)


def _first_plan(app: Any) -> None:
    """Make the first plan while the browser opens; what is wrong is said on its page."""
    lying: Lying = app.state.lying
    with contextlib.suppress(PlannerError):
        if lying.job is not None and lying.given is not None:
            app.state.maker.plan(lying)


def _check_extra() -> None:
    """Refuse where the libraries of the web page are not installed."""
    try:
        import fastapi  # noqa: F401 - only whether it is there
        import python_multipart  # noqa: F401
        import uvicorn  # noqa: F401
    except ImportError as error:
        raise UsageError(
            f"The web page needs libraries that are not installed ({error.name}).",
            fix='Install them at the top of the checkout: pip install ".[web]"',
        ) from error


def _lying(job: str | None, weather: str | None, options: dict[str, Any]) -> Lying:
    """Read what every desk starts with; what is wrong is said here, not in the browser."""
    from planner.job.jobfile import read_job
    from planner.web.desk import Lying
    from planner.web.job_edit import accepted
    from planner.web.uploaded import read_given

    text = given = None
    if job is not None:
        read_job(job)
        text = accepted(Path(job).read_text(encoding="utf-8-sig"))
    if weather is not None:
        try:
            given = read_given(Path(weather).read_bytes(), Path(weather).name, options)
        except (PlannerError, OSError):
            from planner.weather.read import read_weather

            read_weather(weather, **options)  # says the same in the words of a command
            raise
    return Lying(job=text, given=given)


def _listen(host: str, port: int | None) -> socket.socket:
    """Take a port: the one that was asked for, else the usual one or the next free one."""
    if host in _ANY:
        raise UsageError(
            "The planner answers at one address of this computer, not at all of them.",
            fix=f"Give the address by which phones find it, as --host {_own_address()}.",
            key="--host",
        )
    problem: OSError | None = None
    for number in [port] if port else range(_PORT, _PORT + _TRIED):
        try:
            family, *_, where = socket.getaddrinfo(host, number, type=socket.SOCK_STREAM)[0]
            return _bound(family, where)
        except OSError as error:
            problem = error
    said = problem.strerror if problem else ""
    raise UsageError(
        f"The planner cannot answer at {host}{f', port {port}' if port else ''}: {said}.",
        fix="Give another --port, or an address of this computer with --host.",
        key="--port" if port else "--host",
    ) from problem


def _bound(family: int, where: Any) -> socket.socket:
    listening = socket.socket(family, socket.SOCK_STREAM)
    try:
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):  # Windows would share a taken port
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(where)
        listening.listen(128)
    except OSError:
        listening.close()
        raise
    return listening


def _own_address() -> str:
    """Find the address by which others find this computer; nothing is sent."""
    with contextlib.suppress(OSError), socket.socket(type=socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # an address kept for examples
        return str(probe.getsockname()[0])
    return "192.168.1.20"


def _written(host: str) -> str:
    """Write an address as it stands in a URL."""
    return f"[{host}]" if ":" in host else host


def _run(app: Any, listening: socket.socket) -> None:
    import logging

    import uvicorn

    logging.getLogger("python_multipart").setLevel(logging.ERROR)  # torn forms are answered
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, server_header=False, date_header=True
    )
    threading.Thread(target=_first_plan, args=(app,), daemon=True).start()
    with contextlib.suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[listening])
    click.echo("Stopped. What was not saved by name is gone.")
