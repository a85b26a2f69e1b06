"""Servers on this machine that misbehave as lines do, and answers in the services' layouts."""

import contextlib
import datetime as dt
import json
import socket
import threading

from planner.weather.live.line import Line

#: What the clock of the computer says in these tests, and the first hour of the answers.
NOW = dt.datetime(2026, 5, 6, 11, 30, tzinfo=dt.UTC)
FIRST = dt.datetime(2026, 5, 6, tzinfo=dt.UTC)
PLACE = (44.02, -91.40)
#: A body that is JSON, for tests of the line alone.
GOOD = b'{"wind": 3}'


def http_date(time=NOW):
    """Write a time as servers do."""
    return time.strftime("%a, %d %b %Y %H:%M:%S GMT")


def open_meteo_csv(hours=240, *, members=(), gust=6.5, place=PLACE, first=FIRST):
    """An hourly answer in the layout of Open-Meteo, wind in m/s, clock GMT."""
    names = {
        "temperature_2m (°C)": 12.5,
        "precipitation (mm)": 0.0,
        "wind_speed_10m (m/s)": 2.25,
        "wind_gusts_10m (m/s)": gust,
    }
    ends = ["", *[f"_member{number:02}" for number in members]]
    titles = [name.replace(" ", f"{end} ", 1) for name in names for end in ends]
    head = "latitude,longitude,elevation,utc_offset_seconds,timezone,timezone_abbreviation\n"
    rows = [f"{head}{place[0]},{place[1]},265.0,0,GMT,GMT\n", f"time,{','.join(titles)}"]
    for hour in range(hours):
        time = first + dt.timedelta(hours=hour)
        numbers = [
            f"{v + (hour % 7) / 4 + i / 8}" for v in names.values() for i in range(len(ends))
        ]
        rows.append(f"{time:%Y-%m-%dT%H:%M},{','.join(numbers)}")
    return "\n".join(rows) + "\n"


def nws_grid(hours=60, *, place=PLACE):
    """A grid forecast of the NWS: one run of values an element, km/h, issued at 9:12."""
    every = f"{FIRST:%Y-%m-%dT%H:%M:%S+00:00}/P2DT12H"
    winds = {"windSpeed": 9.0, "windGust": 18.0}
    layers = {
        name: {"uom": "wmoUnit:km_h-1", "values": [{"validTime": every, "value": value}]}
        for name, value in winds.items()
    }
    layers["temperature"] = {
        "uom": "wmoUnit:degC",
        "values": [
            {
                "validTime": f"{FIRST + dt.timedelta(hours=h):%Y-%m-%dT%H:%M:%S+00:00}/PT1H",
                "value": h / 4,
            }
            for h in range(hours)
        ],
    }
    layers["quantitativePrecipitation"] = {
        "uom": "wmoUnit:mm",
        "values": [{"validTime": every, "value": 0}],
    }
    north, east = place
    corners = [
        [east + x / 100, north + y / 100] for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    return json.dumps(
        {
            "type": "Feature",
            "geometry": {"type": "Polygon", "coordinates": [[*corners, corners[0]]]},
            "properties": {
                "updateTime": "2026-05-06T09:12:00+00:00",
                "validTimes": every,
                "elevation": {"unitCode": "wmoUnit:m", "value": 265.0},
                **layers,
            },
        }
    )


def met_norway(hours=50):
    """A forecast of MET Norway, updated at 10:41."""
    series = [
        {
            "time": f"{FIRST + dt.timedelta(hours=hour):%Y-%m-%dT%H:%M:%SZ}",
            "data": {
                "instant": {
                    "details": {
                        "air_temperature": 10.0,
                        "wind_speed": 3.0,
                        "wind_speed_of_gust": 6.0 + hour % 5,
                    }
                },
                "next_1_hours": {
                    "summary": {"symbol_code": "cloudy"},
                    "details": {"precipitation_amount": 0.0},
                },
            },
        }
        for hour in range(hours)
    ]
    units = {
        "air_temperature": "celsius",
        "wind_speed": "m/s",
        "wind_speed_of_gust": "m/s",
        "precipitation_amount": "mm",
    }
    return json.dumps(
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [PLACE[1], PLACE[0], 265]},
            "properties": {
                "meta": {"updated_at": "2026-05-06T10:41:00Z", "units": units},
                "timeseries": series,
            },
        }
    )


def airport_reports(hours=48):
    """Reports of an invented airport seven minutes before each full hour, in knots and F."""
    lines = ["station,valid,lon,lat,elevation,tmpf,sknt,gust,p01i,metar"]
    for hour in range(hours):
        time = NOW.replace(minute=53) - dt.timedelta(hours=hours - hour)
        report = f"KXYZ {time:%d%H%M}Z 27010KT 10SM CLR 20/10 A3000"
        lines.append(
            f"KXYZ,{time:%Y-%m-%d %H:%M},-91.10,44.20,210.0,68.00,10.00,"
            f"{'20.00' if hour % 2 else 'M'},0.00,{report}"
        )
    return "\n".join(lines) + "\n"


class BadServer:
    """A server that does with each caller what the test says: ``does(caller, question)``."""

    def __init__(self, does, *, listens=True):
        self.does = does
        self.listens = listens  # to the question, before it does anything
        self.asked = []
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.over = threading.Event()
        self.thread = threading.Thread(target=self._serve, daemon=True)

    @property
    def base(self):
        """Its address."""
        return f"http://127.0.0.1:{self.listening.getsockname()[1]}"

    def _serve(self):
        while not self.over.is_set():
            try:
                caller, _ = self.listening.accept()
            except OSError:
                return
            with contextlib.suppress(OSError), caller:
                caller.settimeout(2)
                question = b""
                while self.listens and not question.endswith(b"\r\n\r\n"):
                    question += caller.recv(4096) or b"\r\n\r\n"
                self.asked.append(question.decode())
                self.does(caller, self.over)

    def __enter__(self):
        self.thread.start()
        return self

    def __exit__(self, *_):
        self.over.set()
        with contextlib.suppress(OSError):
            self.listening.shutdown(socket.SHUT_RDWR)
        self.listening.close()
        self.thread.join(timeout=3)


def whole_answer(body, *, headers=(), length=None, status="200 OK"):
    """The bytes of an answer; ``length`` is what it claims."""
    size = len(body) if length is None else length
    lines = [f"HTTP/1.1 {status}", f"Content-Length: {size}", "Connection: close", *headers]
    return "\r\n".join(lines).encode() + b"\r\n\r\n" + body


def open_line(folder, **changed):
    """A line with short pauses, a still clock and a cache in the test's folder."""
    told = {
        "service": "open-meteo",
        "agent": "planner/test (grower@example.org)",
        "file": folder / "weather.sqlite",
        "deadline": 20.0,
        "pauses": (0.01, 0.01),
        "now": lambda: NOW,
    }
    return Line(**told | changed)


def anything(data, given):
    """A check that takes any body."""


def is_json(data, given):
    """A check that takes JSON only."""
    from planner.weather.live.wire import Trouble

    try:
        json.loads(data)
    except ValueError as error:
        raise Trouble("The answer is not whole: it is no JSON.", passing=True) from error


def answer(httpserver, body=GOOD, path="/w", **more):
    """Let the server answer once or for good."""
    headers = {"Date": http_date()} | more.pop("headers", {})
    httpserver.expect_request(path).respond_with_data(body, headers=headers, **more)
    return httpserver.url_for(path)


def once(httpserver, body, path="/w", **more):
    """Let the server give its next answer."""
    headers = {"Date": http_date()} | more.pop("headers", {})
    httpserver.expect_ordered_request(path).respond_with_data(body, headers=headers, **more)
    return httpserver.url_for(path)


def get(folder, url, check=is_json, **changed):
    """Ask over a line of its own."""
    with open_line(folder, **changed) as line:
        return line.get(url, check)
