"""Where a redirect may lead, and what each failure of the line is called."""

import pytest
import requests
from urllib3 import exceptions as urllib3

from planner.weather.live.wire import Bounds, OneHost, Trouble, _in_words


def redirect(asked, there):
    """An answer that sends the question on."""
    answer = requests.Response()
    answer.url, answer.status_code = asked, 302
    answer.headers["Location"] = there
    return answer


@pytest.mark.parametrize(
    ("asked", "there"),
    [
        ("https://a.org/x", "/y"),
        ("https://a.org/x", "https://a.org:443/y"),
        ("https://A.org/x", "https://a.ORG/y"),
        ("http://a.org/x", "https://a.org/y"),
        ("http://a.org:8000/x", "http://a.org:8000/y"),
    ],
)
def test_the_same_host_may_send_on(asked, there):
    session = OneHost(backend="memory")
    assert session.get_redirect_target(redirect(asked, there)) == there


@pytest.mark.parametrize(
    ("asked", "there"),
    [
        ("https://a.org/x", "https://b.org/x"),
        ("https://a.org/x", "https://a.org.b.org/x"),
        ("https://a.org/x", "https://user@b.org/x"),
        ("https://a.org/x", "http://a.org/x"),
        ("https://a.org/x", "https://a.org:8443/x"),
        ("http://a.org:8000/x", "https://a.org/x"),
        ("https://a.org/x", "//b.org/x"),
    ],
)
def test_another_host_or_a_worse_way_may_not(asked, there):
    session = OneHost(backend="memory")
    with pytest.raises(Trouble, match="sends the question on to another host"):
        session.get_redirect_target(redirect(asked, there))


def test_an_answer_that_is_no_redirect_leads_nowhere():
    answer = requests.Response()
    answer.url, answer.status_code = "https://a.org/x", 200
    assert OneHost(backend="memory").get_redirect_target(answer) is None


def bounds(seconds):
    nothing = {"heard": lambda _: None, "tell": lambda _: None}
    return Bounds(seconds=seconds, **nothing)


@pytest.mark.parametrize(
    ("error", "word", "passing"),
    [
        (requests.exceptions.ReadTimeout("x"), "within 60 s", False),
        (requests.exceptions.SSLError("x"), "certificate", False),
        (urllib3.SSLError("CERTIFICATE_VERIFY_FAILED"), "certificate", False),
        (requests.exceptions.ConnectionError("x"), "no line", True),
        (urllib3.DecodeError("x"), "broken", True),
        (urllib3.IncompleteRead(3, 4), "only a part", True),
        (ConnectionResetError("x"), "only a part", True),
        (requests.exceptions.InvalidURL("x"), "cannot be asked", False),
    ],
)
def test_each_failure_in_words_and_whether_to_try_again(error, word, passing):
    trouble = _in_words(error, "a.org", bounds(60))
    assert word in trouble.words
    assert trouble.fix
    assert trouble.passing is passing


def test_whatever_breaks_after_the_deadline_was_too_late():
    trouble = _in_words(ConnectionResetError("x"), "a.org", bounds(0))
    assert "whole answer within 0 s" in trouble.words
