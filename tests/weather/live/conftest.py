"""What the tests of the line share: no proxy of this machine stands between."""

import pytest
from werkzeug.serving import WSGIRequestHandler


@pytest.fixture(autouse=True)
def no_proxy(monkeypatch):
    """Local servers are asked directly, and nothing of the user's settings is used."""
    for name in ("HTTP_PROXY", "HTTPS_PROXY", "ALL_PROXY"):
        monkeypatch.delenv(name, raising=False)
        monkeypatch.delenv(name.lower(), raising=False)
    monkeypatch.delenv("PLANNER_CONTACT", raising=False)


@pytest.fixture(autouse=True)
def one_date(monkeypatch):
    """The test server gives the time the test says; else it would add its own as well."""
    monkeypatch.setattr(
        WSGIRequestHandler,
        "send_response",
        lambda self, code, message=None: self.send_response_only(code, message),
    )
