"""A question over a line that fails in every way a line can."""

import datetime as dt
import gzip
import shutil
import socket
import ssl
import subprocess
import time

import pytest

from planner.errors import WeatherError
from tests.weather.live.made_line import (
    GOOD,
    NOW,
    BadServer,
    answer,
    anything,
    get,
    http_date,
    once,
    open_line,
    whole_answer,
)


def told(error):
    """What the user reads."""
    return str(error.value)


def test_an_answer_comes_with_its_time_and_age(tmp_path, httpserver):
    made = NOW - dt.timedelta(minutes=4)
    url = answer(httpserver, headers={"Date": http_date(made), "Age": "240"})
    found = get(tmp_path, url)
    assert found.data == GOOD
    assert (found.fetched, found.age) == (made, dt.timedelta(minutes=4))
    assert not found.stale
    assert not found.kept
    assert found.notes == ()


def test_nothing_but_the_address_and_who_asks_is_sent(tmp_path, httpserver, monkeypatch):
    """Not a cookie, a language, a login of the user's .netrc nor a word for the cache."""
    netrc = tmp_path / "netrc"
    netrc.write_text("machine localhost login grower password secret\n", encoding="utf-8")
    netrc.chmod(0o600)
    monkeypatch.setenv("NETRC", str(netrc))
    url = answer(httpserver, headers={"Set-Cookie": "who=you", "ETag": '"1"', "Expires": "0"})
    for _ in range(2):
        get(tmp_path, url)
    allowed = {"Host", "User-Agent", "Accept-Encoding", "Connection", "If-None-Match"}
    assert len(httpserver.log) == 2
    for request, _ in httpserver.log:
        assert set(request.headers.keys()) <= allowed
        assert request.headers["User-Agent"] == "planner/test (grower@example.org)"
    assert httpserver.log[1][0].headers["If-None-Match"] == '"1"'


def test_numbers_beyond_all_sense_are_bounded(tmp_path, httpserver):
    huge = "9" * 30
    url = answer(httpserver, headers={"Cache-Control": f"max-age={huge}", "Age": huge})
    assert get(tmp_path, url).data == GOOD


def test_without_line_and_copy_the_error_names_the_service(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as closed:
        port = closed.getsockname()[1]
    with pytest.raises(WeatherError, match=r"There is no line to 127\.0\.0\.1") as error:
        get(tmp_path, f"http://127.0.0.1:{port}/w")
    assert error.value.exit_code == 3
    assert error.value.file == "open-meteo (127.0.0.1)"
    assert error.value.fix


def test_a_web_page_is_not_kept_in_place_of_weather(tmp_path, httpserver):
    url = once(httpserver, GOOD)
    for _ in range(3):
        once(httpserver, b"<html>Please log in</html>", content_type="text/html")
    get(tmp_path, url)
    later = NOW + dt.timedelta(hours=1)
    old = get(tmp_path, url, now=lambda: later)
    assert old.stale
    assert "no JSON" in old.why
    assert get(tmp_path, url, offline=True).data == GOOD


def test_too_many_questions_wait_as_long_as_asked(tmp_path, httpserver):
    url = once(httpserver, b"", status=429, headers={"Retry-After": "1"})
    once(httpserver, GOOD)
    said = []
    began = time.monotonic()
    found = get(tmp_path, url, tell=said.append)
    assert time.monotonic() - began >= 1.0
    assert found.data == GOOD
    assert said == ["localhost is asked too often (429). Trying again in 1 s."]


def test_a_wait_beyond_the_deadline_is_not_waited(tmp_path, httpserver):
    url = answer(httpserver, b"", status=429, headers={"Retry-After": "3600"})
    with pytest.raises(WeatherError, match="It asks to wait 1 h"):
        get(tmp_path, url)
    assert len(httpserver.log) == 1


@pytest.mark.parametrize("wait", ["1" + "0" * 30, "\N{SUPERSCRIPT TWO}"])
def test_a_wait_that_makes_no_sense_is_no_fault(tmp_path, httpserver, wait):
    headers = {"Retry-After": wait}
    url = answer(httpserver, b"", status=429, headers=headers)
    with pytest.raises(WeatherError, match="asked too often"):
        get(tmp_path, url)


def test_a_wait_given_as_a_date_counts_from_the_service_clock(tmp_path, httpserver):
    until = http_date(NOW + dt.timedelta(minutes=30))
    url = answer(httpserver, b"", status=503, headers={"Retry-After": until})
    with pytest.raises(WeatherError, match="It asks to wait 30 min"):
        get(tmp_path, url, now=lambda: NOW + dt.timedelta(days=2))


@pytest.mark.parametrize("status", [500, 502, 503, 504])
def test_a_service_out_of_order_is_tried_again(tmp_path, httpserver, status):
    url = once(httpserver, b"oops", status=status)
    once(httpserver, b"oops", status=status)
    once(httpserver, GOOD)
    assert get(tmp_path, url).data == GOOD
    assert len(httpserver.log) == 3


def test_a_service_that_stays_out_of_order_is_left(tmp_path, httpserver):
    url = answer(httpserver, b"oops", status=503)
    with pytest.raises(WeatherError, match=r"out of order \(503\)"):
        get(tmp_path, url)
    assert len(httpserver.log) == 3


def test_a_refusal_gives_the_reason_and_is_not_repeated(tmp_path, httpserver):
    body = b'{"error": true, "reason": "Latitude must be in range of -90 to 90."}'
    url = answer(httpserver, body, status=400)
    with pytest.raises(WeatherError, match=r"\(400: Latitude must be in range of -90 to 90\)"):
        get(tmp_path, url)
    assert len(httpserver.log) == 1


def test_a_service_that_moves_soon_is_noted(tmp_path, httpserver):
    """MET Norway answers 203 where an address will be given up."""
    found = get(tmp_path, answer(httpserver, status=203))
    assert found.data == GOOD
    assert [note.code for note in found.notes] == ["service-changes"]
    assert get(tmp_path, httpserver.url_for("/w")).kept


def test_a_second_question_over_a_broken_line_is_not_tried_at_length(tmp_path, httpserver):
    url = answer(httpserver, b"oops", status=503)
    with open_line(tmp_path) as line:
        for _ in range(2):
            with pytest.raises(WeatherError):
                line.get(url, anything)
    assert len(httpserver.log) == 4


def test_half_a_body_is_a_failure_and_not_kept(tmp_path):
    """Twelve bytes are promised; the line breaks after eleven, which happen to be JSON."""
    half = whole_answer(GOOD, length=len(GOOD) + 1)
    with BadServer(lambda caller, _: caller.sendall(half)) as server:
        with pytest.raises(WeatherError, match="only a part of the answer came"):
            get(tmp_path, f"{server.base}/w")
        assert len(server.asked) == 3
        with pytest.raises(WeatherError, match="no copy"):
            get(tmp_path, f"{server.base}/w", offline=True)


def test_half_a_body_in_chunks_is_a_failure(tmp_path):
    head = b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n"
    half = head + b"%x\r\n%s\r\n" % (len(GOOD), GOOD)
    with (
        BadServer(lambda caller, _: caller.sendall(half)) as server,
        pytest.raises(WeatherError, match="only a part of the answer came"),
    ):
        get(tmp_path, f"{server.base}/w")


def test_a_broken_packing_is_a_failure(tmp_path):
    broken = whole_answer(b"\x1f\x8b not gzip", headers=("Content-Encoding: gzip",))
    with (
        BadServer(lambda caller, _: caller.sendall(broken)) as server,
        pytest.raises(WeatherError, match="is broken"),
    ):
        get(tmp_path, f"{server.base}/w")


def dribble(first):
    """A server that sends the start, then a byte every twentieth of a second."""

    def does(caller, over):
        caller.sendall(first)
        while not over.wait(0.05):
            caller.sendall(b" ")

    return does


@pytest.mark.parametrize(
    "first",
    [
        b"HTTP/1.1 200 OK\r\nContent-Length: 1000000\r\n\r\n",
        b"HTTP/1.1 200 OK\r\nX-Long: ",
        b"HTTP/1.1 200 OK\r\n\r\n",
    ],
    ids=["body", "header", "no length"],
)
def test_a_dribbling_server_is_cut_off_at_the_deadline(tmp_path, first):
    began = time.monotonic()
    with BadServer(dribble(first)) as server:
        with pytest.raises(WeatherError, match=r"whole answer within 0\.4 s"):
            get(tmp_path, f"{server.base}/w", deadline=0.4)
        assert 0.4 <= time.monotonic() - began < 5


def test_a_silent_server_is_cut_off_at_the_deadline(tmp_path):
    began = time.monotonic()
    with BadServer(lambda _, over: over.wait(30)) as server:
        with pytest.raises(WeatherError, match=r"whole answer within 0\.3 s"):
            get(tmp_path, f"{server.base}/w", deadline=0.3)
        assert time.monotonic() - began < 3


def test_tries_share_one_deadline(tmp_path):
    """Slow failures do not add up: three times 0.3 s do not fit into half a second."""

    def does(caller, over):
        over.wait(0.3)
        caller.sendall(whole_answer(b"", status="503 Busy"))

    with BadServer(does) as server:
        with pytest.raises(WeatherError, match=r"within 0\.5 s"):
            get(tmp_path, f"{server.base}/w", deadline=0.5)
        assert len(server.asked) <= 2


def test_an_answer_over_the_cap_is_refused_by_its_length_alone(tmp_path):
    """It says 60 MB; not one byte of it is waited for."""
    says = b"HTTP/1.1 200 OK\r\nContent-Length: 60000000\r\n\r\n"

    def does(caller, over):
        caller.sendall(says)
        over.wait(30)

    with BadServer(does) as server, pytest.raises(WeatherError, match="larger than 50 MB"):
        get(tmp_path, f"{server.base}/w")


def test_an_answer_over_the_cap_is_refused_while_it_is_read(tmp_path):
    """Without a length, the reading stops soon after the cap, not at the end."""
    sent = []

    def does(caller, over):
        caller.sendall(b"HTTP/1.1 200 OK\r\n\r\n")
        piece = b" " * 10_000
        while not over.is_set() and sum(sent) < 100_000_000:
            caller.sendall(piece)
            sent.append(len(piece))

    with BadServer(does) as server:
        with pytest.raises(WeatherError, match="larger than 1 MB"):
            get(tmp_path, f"{server.base}/w", most=1_000_000)
        server.over.wait(0.2)
    assert sum(sent) < 20_000_000


def test_a_small_packing_of_a_large_answer_is_refused(tmp_path, httpserver):
    packed = gzip.compress(b" " * 5_000_000)
    assert len(packed) < 10_000
    url = answer(httpserver, packed, headers={"Content-Encoding": "gzip"})
    with pytest.raises(WeatherError, match="larger than 1 MB"):
        get(tmp_path, url, most=1_000_000)


def test_a_packed_answer_is_unpacked_and_kept_so(tmp_path, httpserver):
    url = answer(httpserver, gzip.compress(GOOD), headers={"Content-Encoding": "gzip"})
    assert get(tmp_path, url).data == GOOD
    assert get(tmp_path, url, offline=True).data == GOOD


def test_a_redirect_to_another_host_is_refused(tmp_path, httpserver):
    """127.0.0.1 is not localhost, though it is this machine too; nothing is asked of it."""
    away = f"http://127.0.0.1:{httpserver.port}/login"
    url = answer(httpserver, b"", status=302, headers={"Location": away})
    with pytest.raises(WeatherError, match="sends the question on to another host") as error:
        get(tmp_path, url)
    assert "login" in told(error)
    assert [request.path for request, _ in httpserver.log] == ["/w"]


@pytest.mark.parametrize("there", ["https://localhost/w", "//localhost:9/w", "file:///etc/w"])
def test_a_redirect_to_another_port_or_kind_is_refused(tmp_path, httpserver, there):
    url = answer(httpserver, b"", status=301, headers={"Location": there})
    with pytest.raises(WeatherError, match="another host"):
        get(tmp_path, url)


def test_a_redirect_to_the_same_host_is_followed_and_kept(tmp_path, httpserver):
    url = answer(httpserver, b"", status=301, headers={"Location": "/there"})
    answer(httpserver, path="/there")
    assert get(tmp_path, url).data == GOOD
    assert get(tmp_path, url, offline=True).data == GOOD


def test_redirects_in_a_circle_end(tmp_path, httpserver):
    url = answer(httpserver, b"", status=302, headers={"Location": "/w"})
    with pytest.raises(WeatherError, match="redirects"):
        get(tmp_path, url)
    assert len(httpserver.log) == 6


@pytest.mark.parametrize(("hours", "way"), [(2, "ahead of"), (-3, "behind")])
def test_a_wrong_clock_is_doubted_and_ages_go_by_the_service(tmp_path, httpserver, hours, way):
    made = NOW - dt.timedelta(minutes=10)
    url = answer(httpserver, headers={"Date": http_date(made), "Age": "600"})
    found = get(tmp_path, url, now=lambda: NOW + dt.timedelta(hours=hours))
    [note] = found.notes
    assert (note.code, note.doubt) == ("clock-off", True)
    assert f"{abs(hours)} h {way} the service's" in note.text
    assert found.age == dt.timedelta(minutes=10)


def test_a_clock_a_little_off_is_not_spoken_of(tmp_path, httpserver):
    found = get(tmp_path, answer(httpserver), now=lambda: NOW + dt.timedelta(minutes=4))
    assert found.notes == ()


def test_a_long_wait_is_told(tmp_path, monkeypatch):
    from planner.weather.live import wire

    monkeypatch.setattr(wire, "_LONG_WAIT", 0.1)
    said = []
    with (
        BadServer(lambda _, over: over.wait(30)) as server,
        pytest.raises(WeatherError),
    ):
        get(tmp_path, f"{server.base}/w", deadline=0.8, tell=said.append)
    assert said
    assert all(text.startswith("Waiting for 127.0.0.1") for text in said)


@pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl makes the certificate")
def test_a_certificate_that_nobody_signed_is_refused(tmp_path):
    """The server made its own; not a word of the question reaches it."""
    key, signed = tmp_path / "key.pem", tmp_path / "own.pem"
    words = f"req -x509 -newkey rsa:2048 -nodes -keyout {key} -out {signed} -subj /CN=localhost"
    subprocess.run(["openssl", *words.split()], check=True, capture_output=True)
    own = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    own.load_cert_chain(signed, key)

    def does(caller, _):
        with own.wrap_socket(caller, server_side=True) as safe:
            safe.sendall(whole_answer(GOOD))

    with (
        BadServer(does, listens=False) as server,
        pytest.raises(WeatherError, match=r"The certificate of .* cannot be trusted"),
    ):
        get(tmp_path, server.base.replace("http", "https"))
