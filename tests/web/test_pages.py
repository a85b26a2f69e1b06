"""The pages as somebody with a browser and no script meets them."""

import html
import io
import json
import re
import tomllib
import zipfile
from concurrent.futures import ThreadPoolExecutor
from html.parser import HTMLParser

import pytest

from planner.job.jobfile import parse_job
from planner.web.door import MOST
from planner.web.pages import PAGES
from tests.web.made_app import DATA, JOB, WEATHER, app_of, beside, browser, forms, send

FORECAST = {"upload": ("forecast.csv", WEATHER)}
ANSWERS = {
    "name": "North tunnel",
    "place.latitude": "44.02",
    "place.longitude": "-91.40",
    "house.width": "20 ft",
    "house.length": "48 ft",
    "crew.people": "4",
}


@pytest.fixture
def client(tmp_path):
    return browser(app_of(tmp_path))


@pytest.fixture
def empty(tmp_path):
    return browser(app_of(tmp_path, job=None, given=None))


def words(text):
    """Give a page without its tags."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def test_from_an_empty_desk_to_an_answer(empty):
    """Seven answers, one file, and the plan is there; each page leads to the next."""
    first = empty.get("/")
    assert first.url.path == "/job"
    after_job = send(empty, "/job", **ANSWERS)
    assert after_job.url.path == "/weather"
    found = empty.post(
        "/weather", files=FORECAST, data=forms(after_job.text)["/weather"].fields
    )
    assert found.url.path == "/weather"
    assert "28 of 240" in words(found.text)
    plan = empty.get("/")
    assert plan.url.path == "/plan"
    assert re.search(r"\b(GO|HOLD|NO-GO)\b", words(plan.text))
    assert "North tunnel" in plan.text
    assert "not permission" in words(plan.text)


def test_nothing_yet_leads_to_the_form_that_is_missing(empty, tmp_path):
    """No job, no weather: no page is a dead end."""
    for page in ("/plan", "/what-if", "/tension", "/tension.svg", "/save/page", "/save/job"):
        assert empty.get(page).url.path == "/job"
    no_weather = browser(app_of(tmp_path, given=None))
    for page in ("/plan", "/what-if", "/save/calendar"):
        assert no_weather.get(page).url.path == "/weather"
    assert "Pull chart" in no_weather.get("/tension").text
    assert "no job yet" in beside(empty.get("/tension/now?film=48C").text, "film")
    no_job = browser(app_of(tmp_path, job=None))
    assert "28 of 240" in words(no_job.get("/weather").text)


def test_errors_stand_beside_their_fields_and_nothing_typed_is_lost(client):
    """Two wrong fields, one of them folded away: both are told, all values stay."""
    typed = {
        "house.width": "30",
        "house.hip": "4 fathoms",
        "crew.people": "6",
        "name": "Süd <b>",
    }
    answer = send(client, "/job", **typed)
    assert answer.status_code == 422
    assert "no unit" in beside(answer.text, "house-width")
    assert "fathoms" in beside(answer.text, "house-hip")
    assert beside(answer.text, "crew-people") == ""
    kept = forms(answer.text)["/job"].fields
    assert {key: kept[key] for key in typed} == typed
    assert re.search(r"<details open>\s*<summary>More about the house", answer.text)
    assert "<b>" not in answer.text
    assert "Larkfield" in client.get("/plan").text


def test_a_name_with_markup_is_shown_as_it_is_typed(client):
    """Markup in a name is text on every page, and gives a plain file name."""
    name = '<script>alert("x")</script>'
    assert send(client, "/job", name=name).status_code == 200
    for page in ("/job", "/plan", "/what-if", "/tension", "/weather"):
        text = client.get(page).text
        assert "<script>alert" not in text
        assert "alert(" not in text or "&lt;script&gt;" in text
    saved = client.get("/save/page")
    assert saved.headers["content-disposition"] == (
        'attachment; filename="script-alert-x-script.html"'
    )
    assert "<script>alert" not in saved.text


def test_a_stale_form_overwrites_nothing(client):
    """Two tabs: the second to send is told what is now, and may send again."""
    drawn = forms(client.get("/job").text)["/job"].fields
    assert send(client, "/job", **{"crew.people": "6"}).status_code == 200
    late = client.post("/job", data={**drawn, "house.hip": "5 ft"})
    assert late.status_code == 409
    said = words(late.text)
    assert "changed in another tab" in said
    assert "People in the crew 6 4" in said
    assert "Height of the channel along the sides 4 ft 5 ft" in said
    now = tomllib.loads(client.get("/save/job").text)
    assert (now["crew"]["people"], now["house"]["hip"]) == (6, "4 ft")
    again = forms(late.text)["/job"].fields
    assert client.post("/job", data=again).status_code == 200
    now = tomllib.loads(client.get("/save/job").text)
    assert (now["crew"]["people"], now["house"]["hip"]) == (4, "5 ft")


def test_one_step_back(client):
    """The last change can be put back, and put forth again."""
    send(client, "/job", **{"crew.people": "6"})
    assert send(client, "/job/back", "/job").status_code == 200
    assert client.get("/save/job").text == JOB
    send(client, "/job/back", "/job")
    assert "people = 6" in client.get("/save/job").text
    assert client.post("/job/back", data={"mark": "old"}).status_code == 409


def test_steps_are_marked(client):
    """A step that is done is no longer planned."""
    assert send(client, "/job/steps", "/job", **{"step roof sheet": "done"}).status_code == 200
    assert '[steps."roof sheet"]\ndone = true' in client.get("/save/job").text
    record = client.get("/save/record").json()
    assert "roof sheet" not in {step["step"] for step in record["steps"]}
    stale = client.post("/job/steps", data={"mark": "old", "step trim": "done"})
    assert stale.status_code == 409
    assert "trim to do done" in words(stale.text)


def test_a_job_file_is_taken_whole_or_not_at_all(client):
    """Uploaded or typed; a broken one stays in the text field with its error."""
    drawn = forms(client.get("/job").text)["/job/file"].fields
    other = JOB.replace("Larkfield house 2", "Other")
    sent = client.post("/job/file", data=drawn, files={"upload": ("x.toml", other)})
    assert "Other" in sent.text
    drawn = forms(sent.text)["/job/file"].fields
    broken = client.post("/job/file", data={**drawn, "text": other.replace("[film]", "[film")})
    assert broken.status_code == 422
    assert "not valid TOML" in beside(broken.text, "text")
    assert "[film\n" in html.unescape(broken.text)
    weather = client.post("/job/file", data=drawn, files={"upload": ("x", bytes(range(256)))})
    assert "Is it the weather file?" in beside(weather.text, "text")
    assert client.get("/save/job").text == other


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("a.csv", b"\x89PNG\r\n\x1a\n\0\0", "not a text file"),
        ("a.csv", b"", "empty"),
        ("a.csv", b"<html>404</html>", "web page"),
        ("a.csv", WEATHER.replace(b"T03:00-05:00,4.7", b"T03:00-05:00,x"), "line 12"),
        ("../../etc/<b>.csv", b"", "_b_.csv: The file is empty"),
    ],
)  # fmt: skip
def test_weather_that_cannot_be_read(client, name, content, said):
    """It is said beside the field, names the file as its owner does, and changes nothing."""
    answer = client.post("/weather", files={"upload": (name, content)})
    assert answer.status_code == 422
    error = beside(answer.text, "upload")
    assert said in error
    assert "/tmp" not in answer.text
    assert "<b>" not in answer.text
    assert client.get("/plan").status_code == 200


def test_an_error_about_an_option_opens_its_field(empty):
    """Times without an offset need a zone: the field opens, and filling it in is enough."""
    bare = re.sub(rb"(T\d\d:00)-05:00", rb"\1", WEATHER)
    bare = bare.replace(b"# issued: 2026-05-04T04:00-05:00\n", b"")
    refused = empty.post("/weather", files={"upload": ("bare.csv", bare)})
    assert refused.status_code == 422
    assert "--" not in words(refused.text)
    assert beside(refused.text, "zone")
    assert "<details open>" in refused.text
    wrong = empty.post(
        "/weather", files={"upload": ("bare.csv", bare)}, data={"zone": "Nowhere/Land"}
    )
    assert "Nowhere/Land" in beside(wrong.text, "zone")
    assert forms(wrong.text)["/weather"].fields["zone"] == "Nowhere/Land"
    taken = empty.post(
        "/weather", files={"upload": ("bare.csv", bare)}, data={"zone": "America/Chicago"}
    )
    assert taken.status_code == 200
    time = empty.post("/weather", data={"zone": "America/Chicago", "now": "soon"})
    assert "not a time" in beside(time.text, "now")


def test_no_file_was_chosen(empty):
    """An empty form, and a form torn off, say so."""
    assert "No file was chosen" in beside(empty.post("/weather").text, "upload")
    kind = {"content-type": "multipart/form-data; boundary=x"}
    torn = empty.post("/weather", content=b"--x\r\ntorn", headers=kind)
    assert "No file was chosen" in beside(torn.text, "upload")


def test_weather_of_another_place_and_of_the_past(tmp_path):
    """What only the plan finds out is said on a page of its own, with the way to mend it."""
    client = browser(app_of(tmp_path))
    far = WEATHER.replace(b"latitude: 44.02", b"latitude: 24.02")
    client.post("/weather", files={"upload": ("far.csv", far)})
    refused = client.get("/plan")
    assert refused.status_code == 422
    assert "km" in refused.text
    assert "--far" not in refused.text
    assert 'href="/weather"' in refused.text
    client.post("/weather", data={"far": "yes"})
    assert client.get("/plan").status_code == 200
    client.post(
        "/weather", files={"upload": ("f.csv", WEATHER)}, data={"now": "2026-06-01 06:00"}
    )
    past = client.get("/plan")
    assert past.status_code == 422
    assert "past" in past.text
    assert "--now" not in past.text


def test_a_packed_file_that_swells_is_refused(client):
    """A zip of a few kilobytes that would fill the memory."""
    box = io.BytesIO()
    with zipfile.ZipFile(box, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("a.csv", bytes(70_000_000))
    assert len(box.getvalue()) < 100_000
    refused = client.post("/weather", files={"upload": ("bomb.zip", box.getvalue())})
    assert refused.status_code == 422
    assert "larger than 64 MB" in beside(refused.text, "upload")


def test_what_is_too_large_is_not_read(client):
    """30 MB, with and without its size said beforehand."""
    for length in (30_000_000, MOST + 200_000):
        big = client.post("/weather", files={"upload": ("big.csv", b"1" * length)})
        assert big.status_code == 413
        assert "larger than 20 MB" in big.text

    def pieces():
        head = 'content-disposition: form-data; name="upload"; filename="a.csv"'
        yield f"--x\r\n{head}\r\n\r\n".encode()
        for _ in range(30):
            yield b"1" * 1_000_000
        yield b"\r\n--x--\r\n"

    kind = {"content-type": "multipart/form-data; boundary=x"}
    streamed = client.post("/weather", content=pieces(), headers=kind)
    assert streamed.status_code == 413
    assert client.get("/plan").status_code == 200


def test_the_plan_can_be_taken_along(client):
    """Every file that the page offers is what its name says."""
    page = client.get("/plan").text
    links = re.findall(r'href="(/save/[^"]+)"', page)
    assert len(links) == 7
    starts = {
        ".html": b"<!doctype html>",
        ".pdf": b"%PDF",
        ".ics": b"BEGIN:VCALENDAR",
        ".json": b"{",
        ".toml": b"# The demo job",
        ".txt": b"",
    }
    for link in links:
        file = client.get(link)
        assert file.status_code == 200, file.text
        name = re.fullmatch(
            r'attachment; filename="(larkfield-house-2[a-z0-9-]*(\.[a-z]+))"',
            file.headers["content-disposition"],
        )
        assert name, file.headers["content-disposition"]
        assert file.content.startswith(starts[name.group(2)])
    assert client.get("/save/record").json()["schema"] == "windows/1"
    assert client.get("/save/nothing").status_code == 422


def test_a_card_without_a_window_still_answers(tmp_path):
    """Where no hour is calm enough there is no window: every face says so in words."""
    client = browser(app_of(tmp_path, job=f'{JOB}[limits]\ngust = "0.7 mph"\n'))
    assert client.get("/save/record").json()["decision"]["answer"] == "no-go"
    for what in ("page", "card-a4", "text", "calendar"):
        assert client.get(f"/save/{what}").status_code == 200
    assert "No hours" in words(client.get("/what-if").text)


def test_the_film_temperature_is_typed_or_slid(client):
    """C, F and a bare number in the job's units say the same; others are refused beside it."""
    said = {
        typed: client.get("/tension", params={"film": typed}).text
        for typed in ("48C", "118.4 F", "118.4")
    }
    now = {
        typed: re.search(r'class="big">([^<]*)', text).group(1) for typed, text in said.items()
    }
    assert len(set(now.values())) == 1
    assert now["48C"] == re.search(
        r'class="big">([^<]*)', client.get("/tension/now", params={"film": "48C"}).text
    ).group(1)
    for wrong in ("warm", "20 ft", "400F"):
        refused = client.get("/tension", params={"film": wrong})
        assert refused.status_code == 422
        assert beside(refused.text, "film")
        assert f'value="{wrong}"' in refused.text
    assert 'value="70"' in client.get("/tension").text


def test_tension_shows_what_the_command_says(client):
    """Chart, course and cautions, the same words and numbers; files of it too."""
    from planner.hours.house import with_steps
    from planner.plan.tension_plan import make_tension
    from planner.report.screen.tension import CHART_ROWS
    from planner.report.words import Words
    from planner.report.yard.tension import TOO, pull_cell
    from tests.web.made_app import demo_weather

    job = with_steps(parse_job(JOB))
    plan = make_tension(job, demo_weather().weather, film_temps=CHART_ROWS["us"])
    page = words(client.get("/tension").text)
    spoken = Words(units="us", time_zone=plan.time_zone)
    for row in plan.chart.rows:
        cells = " ".join(pull_cell(mm, spoken) for mm in row.pull.values())
        assert (cells in page) is (not row.against)
        assert all(TOO[code].capitalize() in page for code in row.against[:1])
    record = client.get("/tension/record", params={"film": "48C"}).json()
    assert record["now"]["film_temp_c"] == 48
    assert len(record["course"]) > 100
    assert client.get("/tension/table").text.startswith("time,")
    picture = client.get("/tension.svg", params={"film": "48C"})
    assert picture.headers["content-type"] == "image/svg+xml"
    assert "script" not in picture.headers["content-security-policy"]


def test_what_if_stands_beside_the_plan_as_it_is(client):
    """More people hold more wind; the desk is left as it is."""
    asked = {
        "crew.people": "6",
        "on": "",
        "place.gust_at_sheet": "",
        "film.stress_free": "100 F",
    }
    page = words(client.get("/what-if", params=asked).text)
    assert "With 6 people, film stress-free at 100 F" in page
    rows = re.findall(
        r'<th scope="row">([^<]+)</th><td>([^<]*)</td><td>([^<]*)</td>',
        client.get("/what-if", params=asked).text,
    )
    beside_each = {name: (one, other) for name, one, other in rows}
    assert len(beside_each) == 9
    chance = [int(re.search(r"in (\d+) of", x).group(1)) for x in beside_each["Chance"]]
    assert chance[1] > chance[0]
    assert beside_each["Pull at the locks"][0] != beside_each["Pull at the locks"][1]
    assert client.get("/save/job").text == JOB


def test_what_if_on_a_day_and_in_shelter(client):
    """Only starts of that day; less wind at the sheet raises the chance."""
    page = client.get("/what-if", params={"on": "2026-05-05"}).text
    start = re.search(r"Best start</th><td>[^<]*</td><td>([^<]*)", page).group(1)
    assert "Tue May 5" in start
    sheltered = client.get("/what-if", params={"place.gust_at_sheet": "0.4"}).text
    chances = re.search(
        r"Chance</th><td>[^<]*in (\d+) of[^<]*</td><td>[^<]*in (\d+) of", sheltered
    )
    assert int(chances.group(2)) > int(chances.group(1))


@pytest.mark.parametrize(
    ("asked", "field", "said"),
    [
        ({"crew.people": "many"}, "crew-people", "whole number"),
        ({"crew.people": "99"}, "crew-people", "between 1 and 30"),
        ({"on": "tomorrow"}, "on", "not a date"),
        ({"on": "2026-06-30"}, "on", "2026"),
        ({"place.gust_at_sheet": "8"}, "place-gust_at_sheet", "between"),
        ({"film.stress_free": "35"}, "film-stress_free", "no unit"),
    ],
)
def test_what_cannot_be_asked(client, asked, field, said):
    """It is said beside the field, and the plan as it is still stands there."""
    refused = client.get("/what-if", params=asked)
    assert refused.status_code == 422
    assert said in beside(refused.text, field)
    assert "--" not in words(refused.text)
    assert "As it is" in refused.text


def test_two_phones_have_two_desks(tmp_path):
    """Both begin with the job on the command line; neither sees what the other changes."""
    app = app_of(tmp_path)
    one, other = browser(app), browser(app)
    send(one, "/job", **{"crew.people": "6"})
    assert "people = 6" in one.get("/save/job").text
    assert other.get("/save/job").text == JOB


def test_the_job_file_is_saved_by_name_only(client, tmp_path):
    """Where the planner was started, under a plain name, whole; an old file is kept."""
    assert list(tmp_path.iterdir()) == []
    assert (
        forms(client.get("/job").text)["/job/save"].fields["file"] == "larkfield-house-2.toml"
    )
    assert send(client, "/job/save", "/job", file="mine.toml").status_code == 200
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == JOB
    send(client, "/job", **{"crew.people": "6"})
    there = send(client, "/job/save", "/job", file="mine.toml")
    assert there.status_code == 422
    assert "there already" in beside(there.text, "file")
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == JOB
    assert send(client, "/job/save", "/job", file="mine.toml", replace="yes").status_code == 200
    assert "people = 6" in (tmp_path / "mine.toml").read_text(encoding="utf-8")
    for name in (
        "../out.toml",
        "/elsewhere/out.toml",
        ".hidden.toml",
        "a\\b.toml",
        "job.txt",
        "",
    ):
        refused = send(client, "/job/save", "/job", file=name)
        assert refused.status_code == 422
        assert beside(refused.text, "file")
    assert [x.name for x in tmp_path.iterdir()] == ["mine.toml"]


def test_twenty_at_once(tmp_path):
    """Twenty phones ask at the same moment; each gets its answer."""
    app = app_of(tmp_path)

    def ask(at):
        visitor = browser(app)
        if at in {4, 9}:  # two of them have changed the job
            send(visitor, "/job", **{"crew.people": str(at)})
        page = ("/plan", "/what-if?crew.people=6", "/tension?film=48C", "/weather")[at % 4]
        page = {3: "/save/card-a4", 7: "/save/card-letter", 2: "/tension.svg"}.get(at, page)
        return visitor.get(page).status_code

    with ThreadPoolExecutor(20) as pool:
        assert list(pool.map(ask, range(20))) == [200] * 20


class Outline(HTMLParser):
    """What a reader of the page by ear or keyboard goes by."""

    def __init__(self, text):
        super().__init__()
        self.ids, self.labels, self.fields, self.addresses, self.headings = [], [], [], [], []
        self.inline, self.scripts = [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if "id" in given:
            self.ids.append(given["id"])
        if tag == "label" and "for" in given:
            self.labels.append(given["for"])
        if tag in {"input", "select", "textarea"} and given.get("type") not in {
            "hidden",
            "checkbox",
        }:
            self.fields.append(given)
        self.addresses += [
            given[x] for x in ("href", "src", "action", "data-hx-get") if x in given
        ]
        self.inline += [x for x in given if x.startswith("on") or x == "style"]
        if tag in {"h1", "h2"}:
            self.headings.append(tag)
        if tag in {"script", "style"}:
            self.scripts.append(given.get("src"))


@pytest.mark.parametrize("page", [x for x, _ in PAGES])
def test_a_page_is_whole_and_asks_nothing_of_others(client, page):
    """Labels, one heading on top, no inline script or style, no address elsewhere."""
    outline = Outline(client.get(page).text)
    assert outline.headings[0] == "h1"
    assert outline.headings.count("h1") == 1
    assert len(outline.ids) == len(set(outline.ids))
    named = {x["id"] for x in outline.fields if "id" in x}
    assert named <= set(outline.labels)
    for one in outline.fields:
        told = one.get("aria-describedby", "").split()
        assert set(told) <= set(outline.ids)
    assert outline.inline == []
    assert all(outline.scripts)
    assert not [x for x in outline.addresses if not x.startswith(("/", "#", "data:,"))]
    for address in {x for x in outline.addresses if x.startswith(("/static", "/page"))}:
        assert client.get(address).status_code == 200


def test_no_page_speaks_like_a_machine(client):
    """Words that stay inside: never on a screen."""
    for page, _ in PAGES:
        said = words(client.get(page).text)
        assert not re.search(r"\bNaN\b|\bnan\b|\bmembers?\b|\bmargin\b|\bp90\b|None", said)


def test_what_is_not_there(client):
    """An unknown page and a wrong way to ask are answered in words."""
    assert client.get("/nowhere").status_code == 404
    assert "no such page" in client.get("/nowhere").text
    assert client.put("/job").status_code == 405
    assert (
        client.post("/job", content=b"\xff", headers={"content-type": "text/plain"}).status_code
        == 422
    )
    assert json.loads(client.get("/api/openapi.json").text)["paths"]
    assert client.get("/docs").status_code == 404
    assert (DATA / "larkfield.toml").is_file()
