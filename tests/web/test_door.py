"""Who is let in: names, keys, other sites; and what every answer carries."""

import asyncio
import re
from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.web.made_app import HOST, app_of, browser, forms

KEY = "a-key-made-for-this-run"


@pytest.fixture
def client(tmp_path):
    return browser(app_of(tmp_path))


@pytest.fixture
def keyed(tmp_path):
    return browser(app_of(tmp_path, key=KEY))


@pytest.mark.parametrize("host", ["evil.example", "evil.example:8765", "127.0.0.1", ""])
def test_a_foreign_name_is_refused(client, host):
    """A name that was pointed at this computer from outside is not ours."""
    refused = client.get("/job", headers={"host": host})
    assert refused.status_code == 421
    assert "not the address" in refused.text
    record = client.post("/api/windows", json={}, headers={"host": host})
    assert (record.status_code, record.json()["schema"]) == (421, "error/1")


@pytest.mark.parametrize("origin", ["http://evil.example", "null", f"https://{HOST}"])
def test_a_form_of_another_site_is_refused(client, origin):
    """Nothing on the desk moves."""
    drawn = forms(client.get("/job").text)["/job"].fields
    sent = {**drawn, "crew.people": "9"}
    refused = client.post("/job", data=sent, headers={"origin": origin})
    assert refused.status_code == 403
    assert "another site" in refused.text
    assert "people = 4" in client.get("/save/job").text
    assert (
        client.post("/job", data=sent, headers={"origin": f"http://{HOST}"}).status_code == 200
    )


def test_another_site_gets_no_desk(client):
    """What it embeds is refused; a link from it is opened as if from here."""
    embedded = client.get(
        "/tension.svg", headers={"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}
    )
    assert embedded.status_code == 403
    link = client.get(
        '/plan?x="><b>',
        headers={"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"},
    )
    assert link.status_code == 200
    assert "set-cookie" not in link.headers
    assert 'content="0; url=/plan' in link.text
    assert "<b>" not in link.text


def test_without_the_key_nobody_comes_in(keyed):
    """Pages, files and the interface; a wrong key is none."""
    for path in ("/", "/job", "/static/htmx.min.js", "/job?key=wrong", "/job?key="):
        refused = keyed.get(path, follow_redirects=False)
        assert refused.status_code == 403
        assert "key" in refused.text
        assert "set-cookie" not in refused.headers
    assert keyed.post("/api/inspect", json={}).json()["schema"] == "error/1"
    keyed.cookies.set("planner_key", "wrong")
    assert keyed.get("/job").status_code == 403


def test_the_key_is_asked_for_once(keyed):
    """It becomes a cookie that no script and no other site can use, and leaves the address."""
    first = keyed.get(f"/?key={KEY}", follow_redirects=False)
    assert (first.status_code, first.headers["location"]) == (303, "/")
    [cookie] = [x for x in first.headers.get_list("set-cookie") if KEY in x]
    assert {"HttpOnly", "SameSite=Strict"} <= {x.strip() for x in cookie.split(";")}
    assert keyed.get("/job").status_code == 200


def test_a_program_may_send_the_key_along(keyed):
    """The interface needs no cookie."""
    sent = keyed.post(f"/api/inspect?key={KEY}", json={})
    assert sent.status_code == 422


def test_the_key_leads_to_no_other_site(keyed):
    """A path that looks like an address stays a path."""
    gone = keyed.get(f"http://{HOST}//evil.example/?key={KEY}", follow_redirects=False)
    assert gone.headers["location"].startswith("/evil.example")


@pytest.mark.parametrize(
    "path",
    ["/job", "/nowhere", "/tension.svg", "/save/job", "/static/web.css", "/api/openapi.json"],
)
def test_every_answer_is_dressed(client, path):
    """Nothing from outside is loaded, nothing is kept by the browser or shown elsewhere."""
    headers = client.get(path).headers
    policy = dict(
        x.split(" ", 1)
        for x in re.split(r"; ?", headers["content-security-policy"])
        if " " in x
    )
    assert policy["default-src"] == "'none'"
    assert "unsafe-eval" not in headers["content-security-policy"]
    assert "script-src 'unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cache-control"] == ("no-cache" if "static" in path else "no-store")
    if path == "/job":
        assert policy == {
            "default-src": "'none'",
            "script-src": "'self'",
            "style-src": "'self'",
            "img-src": "'self' data:",
            "form-action": "'self'",
            "connect-src": "'self'",
            "base-uri": "'none'",
            "frame-ancestors": "'none'",
        }


def test_the_desk_goes_by_a_cookie_of_ours(client):
    """A made-up visitor gets a new one; scripts and other sites cannot read it."""
    client.cookies.set("planner_desk", "short")
    [cookie] = client.get("/job").headers.get_list("set-cookie")
    assert re.fullmatch(r"planner_desk=[\w-]{32}; Path=/; HttpOnly; SameSite=Strict", cookie)


def test_a_failure_of_ours_is_answered_in_words(tmp_path, caplog):
    """What nobody foresaw is written where the planner was started, not on the screen."""
    app = app_of(tmp_path)

    def fails(*_, **__):
        raise ZeroDivisionError("secret")

    object.__setattr__(app.state, "maker", type("Broken", (), {"plan": fails})())
    answer = browser(app).get("/plan")
    assert answer.status_code == 500
    assert "went wrong" in answer.text
    assert "secret" not in answer.text
    assert "content-security-policy" in answer.headers
    assert "ZeroDivisionError" in caplog.text


def test_a_body_that_never_ends_is_given_up():
    """Streamed without a size: read up to the cap, let pass up to a bound, then answered."""
    from planner.web.door import _LET_PASS, MOST

    app = app_of()
    sent, answers = 0, []

    async def receive():
        nonlocal sent
        sent += 5_000_000
        return {"type": "http.request", "body": bytes(5_000_000), "more_body": True}

    async def send(message):
        answers.append(message)

    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "POST",
        "path": "/api/windows",
        "raw_path": b"/api/windows",
        "query_string": b"",
        "headers": [(b"host", HOST.encode()), (b"content-type", b"application/json")],
        "server": ("127.0.0.1", 8765),
        "client": ("127.0.0.1", 5),
        "scheme": "http",
        "root_path": "",
    }
    with ThreadPoolExecutor(1) as apart:  # the browser tests keep a loop in this thread
        apart.submit(lambda: asyncio.run(app(scope, receive, send))).result()
    assert answers[0]["status"] == 413
    assert MOST < sent <= _LET_PASS + 10_000_000
