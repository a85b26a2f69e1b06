"""A replay as text, JSON and picture: it fits, says every number, and no other."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from dataclasses import fields, replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from planner.errors import UsageError
from planner.history.records import DayAhead, Policy, Replay, Tenth
from planner.report.picture.reliability import reliability_figure
from planner.report.record.replay import replay_json
from planner.report.record.windows import dumps
from planner.report.save import REPLAY_SUFFIXES, check_suffixes, replay_file
from planner.report.screen.first import WIDTH
from planner.report.screen.replay import how_chances_held, replay_text
from tests.report.made_replay import CASES, blank, made, policy, tenth

SVG = "{http://www.w3.org/2000/svg}"
FORBIDDEN = re.compile(r"\b(nan|members?|margin|p90|inf|none)\b", re.IGNORECASE)


def flat(text: str) -> str:
    return " ".join(text.split())


def lines(replay: Replay) -> list[str]:
    return [flat(x) for x in replay_text(replay).split("\n")]


@pytest.mark.parametrize("name", CASES)
def test_text_fits_a_terminal(name: str) -> None:
    """80 columns, ASCII, no trailing blanks, no NaN and none of the words of the code."""
    text = replay_text(CASES[name]())
    assert [x for x in text.split("\n") if len(x) > WIDTH or x != x.rstrip()] == []
    assert text.isascii()
    assert not FORBIDDEN.findall(text)
    assert "\n\n\n" not in text
    assert not text.endswith("\n")


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize(
    ("head", "rows", "cells"), [("Days", "by_day", 6), ("Rule", "policies", 8)]
)
def test_columns_stay_apart(name: str, head: str, rows: str, cells: int) -> None:
    """A cell never touches the one before it, however wide: every row has them all."""
    replay = CASES[name]()
    text = replay_text(replay).replace("plain rule", "plain").split("\n")
    heads = [at for at, line in enumerate(text) if line.startswith(f"{head} ")]
    wanted = len(getattr(replay, rows))
    assert len(heads) == (1 if wanted else 0)
    for at in heads:
        table = text[at + 1 : at + 1 + wanted]
        assert [len(row.split()) for row in table] == [cells] * wanted


def test_the_head_says_what_was_played() -> None:
    """3 am UTC is the evening before in the place; thousands are marked off."""
    text = flat(replay_text(made()))
    assert text.startswith("Larkfield: roof sheet, forecasts played against what happened")
    assert "380 forecasts, Sun Mar 3, 2030 to Tue Mar 18, 2031; 24,317 windows scored." in text
    assert (
        "Chances made with the table that comes with the planner, fitted on 13 months of "
        "forecasts of one coastal place." in text
    )


def test_scores_by_days_ahead() -> None:
    """Plain forecast, planner, climatology, and 0.084 / 0.194 = 0.43, 0.103 / 0.196 = 0.53."""
    rows = lines(made())
    assert "0 3,302 0.123 0.084 0.194 0.43" in rows
    assert "1 3,298 0.142 0.103 0.196 0.53" in rows
    head = rows.index(
        "Days ahead Windows Plain forecast Planner Climatology Planner/climatology"
    )
    assert rows[head - 1].startswith("Brier score of the chance of every window, by days ahead")


def test_what_came_of_each_rule() -> None:
    """0.253 is 82 % of the plain rule's 0.307, hindsight's 0.102 a third."""
    rows = lines(made())
    assert "planner 367 73% 11% 16% 2.1 0.253 82%" in rows
    assert "plain rule 367 65% 17% 18% 1.6 0.307 100%" in rows
    assert "climatology 367 73% 11% 16% 0.7 0.411 134%" in rows
    assert "hindsight 367 84% 0% 16% 1.0 0.102 33%" in rows
    text = flat(replay_text(made()))
    assert (
        "Cost in sheets lost: a sheet caught 1, the days gone by 0.5, a day waited 0.02."
        in text
    )


def test_how_far_towards_hindsight() -> None:
    """(0.307 - 0.253) / (0.307 - 0.102) = 0.263; dearer is said; and no division by nought."""
    saves = "hindsight would save over the plain rule, the planner saves"
    assert f"{saves} 26 of 100." in flat(replay_text(made()))
    three = dict(zip(("planner", "plain rule", "hindsight"), (0.4, 0.3, 0.1), strict=True))
    dearer = made(policies=tuple(policy(name, cost=cost) for name, cost in three.items()))
    assert "the planner came out dearer than the plain rule" in flat(replay_text(dearer))
    assert saves not in flat(replay_text(dearer))
    for same in (0.0, 0.3):
        even = made(policies=tuple(policy(name, cost=same) for name in three))
        assert saves not in flat(replay_text(even))
        assert "dearer" not in flat(replay_text(even))


def test_the_tenths() -> None:
    """Chance said, windows, the mean said and how many held; nothing where none fell."""
    rows = lines(made())
    assert "0 to 10 of 100 12,345 3 of 100 4 of 100" in rows
    assert "20 to 30 of 100 0 - -" in rows
    assert "70 to 80 of 100 1,493 74 of 100 68 of 100" in rows
    assert "90 to 100 of 100 1,004 95 of 100 91 of 100" in rows


def test_the_sentence_is_of_windows_a_crew_would_go_for() -> None:
    """The fullest tenth above one half; without one the fullest; the count is said."""
    tenths = made().tenths
    said = "Of the 1,493 windows said to hold in 74 of 100, 68 of 100 did."
    assert how_chances_held(tenths) == said
    assert said in lines(made())
    low = how_chances_held(tenths[:4])
    assert low == "Of the 12,345 windows said to hold in 3 of 100, 4 of 100 did."
    half = how_chances_held([tenth(4, 900, 0.45, 0.44), tenth(5, 100, 0.55, 0.52)])
    assert half == "Of the 100 windows said to hold in 55 of 100, 52 of 100 did."
    one = how_chances_held([tenth(9, 1, 0.96, 1.0)])
    assert one == "Of the 1 window said to hold in 96 of 100, 100 of 100 did."
    assert how_chances_held([]) == "No window could be scored."


def test_a_share_that_is_not_all_is_not_written_as_all() -> None:
    """0.999 held is 99 of 100."""
    assert "99 of 100 did" in how_chances_held([tenth(9, 5_000, 0.997, 0.999)])


def test_cautions_and_rules_are_there() -> None:
    """Whose truth flatters, that skill is no promise, and what each rule that ran does."""
    text = flat(replay_text(made()))
    for said in (
        "the analysis of the same provider",
        "every score here flatters",
        "they count for fewer than they are",
        "does not promise it at another",
        "The plain rule takes the forecast at its word",
        "Hindsight knows what came",
        "Climatology goes by how often windows held",
        "13 mornings had no forecast.",
        "an invented service, CC BY 4.0",
    ):
        assert said in text
    few = flat(replay_text(made(policies=made().policies[:2])))
    assert "Hindsight" not in few


@pytest.mark.parametrize("own", [True, False])
def test_months_it_was_fitted_on_are_said_on_every_face(own: bool) -> None:
    """Only where it is so."""
    replay = made(own_months=own)
    said = "fitted on months that are scored here"
    assert (said in flat(replay_text(replay))) is own
    assert (said in flat(" ".join(texts(replay)))) is own
    assert replay_json(replay)["own_months"] is own


NUMBERS = [
    *[("by_day", x.name) for x in fields(DayAhead)],
    *[("policies", x.name) for x in fields(Policy) if x.name != "name"],
    *[("tenths", x.name) for x in fields(Tenth)],
]


@pytest.mark.parametrize("face", [replay_text, replay_json])
@pytest.mark.parametrize(("rows", "field"), NUMBERS)
def test_every_number_of_the_record_is_on_the_face(face, rows: str, field: str) -> None:
    """Another number in the record is another number on the face."""
    replay = made()
    first, *rest = getattr(replay, rows)
    other = replace(first, **{field: getattr(first, field) + 0.4})
    if field in {"days_ahead", "cases", "episodes"}:
        other = replace(first, **{field: getattr(first, field) + 1})
    assert face(replace(replay, **{rows: (other, *rest)})) != face(replay)


#: Typed from the contract replay/1.
CONTRACT = {
    "": "schema planner job step time_zone first last issues windows by_day tenths policies "
    "costs error fitted_on own_months credits notes",
    "by_day": "days_ahead windows brier share",
    "tenths": "low high windows mean_chance share_held",
    "policies": "name episodes done caught missed days_waited cost of_plain_rule",
}


@pytest.mark.parametrize("path", CONTRACT)
def test_every_key_of_the_contract_is_there(path: str) -> None:
    """Keys may be added and never left out."""
    record = replay_json(made())
    records = record[path] if path else [record]
    assert records
    for row in records:
        assert set(CONTRACT[path].split()) <= set(row)


@pytest.mark.parametrize("name", CASES)
def test_every_replay_is_strict_json(name: str) -> None:
    """No NaN and no infinity: a strict reader gives it back unchanged."""
    record = replay_json(CASES[name]())

    def refuse(word: str) -> None:
        raise AssertionError(word)

    assert json.loads(dumps(record), parse_constant=refuse) == record


def test_json_has_local_times_scores_and_null() -> None:
    """Winter is six hours behind, summer time five; an empty tenth has no shares."""
    record = replay_json(made())
    assert record["schema"] == "replay/1"
    assert record["first"] == "2030-03-03T21:00:00-06:00"
    assert dt.datetime.fromisoformat(record["last"]).utcoffset() == dt.timedelta(hours=-5)
    assert record["by_day"][0]["brier"] == {
        "planner": 0.084,
        "plain_forecast": 0.123,
        "climatology": 0.194,
    }
    assert record["by_day"][0]["share"] == 0.433
    assert record["tenths"][2] == {
        "low": 0.2,
        "high": 0.3,
        "windows": 0,
        "mean_chance": None,
        "share_held": None,
    }
    assert record["policies"][0]["of_plain_rule"] == 0.8241
    assert record["costs"] == {"caught": 1.0, "missed": 0.5, "waited": 0.02}
    assert replay_json(blank())["policies"][0]["of_plain_rule"] is None


def test_a_score_over_no_score_is_no_number() -> None:
    """Climatology is right every time where nothing ever holds."""
    day = DayAhead(days_ahead=0, cases=9, planner=0.01, plain=0.0, climatology=0.0)
    assert math.isnan(day.share)
    assert replay_json(made(by_day=(day,)))["by_day"][0]["share"] is None
    assert "0 9 0.000 0.010 0.000 -" in lines(made(by_day=(day,)))


def texts(replay: Replay) -> list[str]:
    figure = reliability_figure(replay)
    return [x.get_text().strip() for axes in figure.axes for x in axes.texts]


@pytest.mark.parametrize("name", CASES)
def test_the_picture_is_the_same_bytes_twice(name: str, tmp_path: Path) -> None:
    """Well-formed SVG with a title and the sentence in its description."""
    first, second = (replay_file(CASES[name](), ".svg") for _ in range(2))
    assert first == second
    root = ET.fromstring(first.decode())
    assert root.find(f"{SVG}title").text.endswith("how chances held")
    said = root.find(f"{SVG}desc").text
    assert how_chances_held(CASES[name]().tenths) in said
    assert "Across, the chance that was said" in said


def test_png_is_twice_a_phone() -> None:
    """About 400 points across a phone, drawn at twice that or more; taller than wide."""
    head = replay_file(made(), ".png")[:24]
    assert head[:8] == b"\x89PNG\r\n\x1a\n"
    wide, high = (int.from_bytes(head[at : at + 4], "big") for at in (16, 20))
    assert 800 <= wide < high


@pytest.mark.parametrize("name", ["chances.pdf", "chances.html", "none/chances.svg"])
def test_other_files_are_refused(name: str, tmp_path: Path) -> None:
    """By suffix, or for want of the folder, before anything is played."""
    with pytest.raises(UsageError):
        check_suffixes([tmp_path / name], REPLAY_SUFFIXES)


def test_dots_and_bars_are_the_tenths() -> None:
    """Each tenth with windows once, in hundredths, larger where there are more."""
    plot, bars = reliability_figure(made()).axes[1:]
    full = [x for x in made().tenths if x.cases]
    [dots] = plot.collections
    assert not dots.get_clip_on(), "a dot on the edge is whole"
    assert dots.get_offsets().tolist() == [
        pytest.approx((100 * x.mean_chance, 100 * x.share_held)) for x in full
    ]
    areas = dots.get_sizes()
    by_cases = sorted(range(len(full)), key=lambda at: full[at].cases)
    assert all(areas[a] < areas[b] for a, b in pairwise(by_cases))
    assert [x.get_height() for x in bars.patches] == [x.cases for x in full]
    assert [x.get_x() + x.get_width() / 2 for x in bars.patches] == pytest.approx(
        [50 * (x.low + x.high) for x in full]
    )
    counts = [x.get_text() for x in bars.texts]
    assert counts == ["12k", "3053", "1972", "601", "802", "1493", "907", "1004"]


def test_no_line_where_no_window_was() -> None:
    """The line between dots breaks at an empty tenth; the other line is the diagonal."""
    plot = reliability_figure(made()).axes[1]
    diagonal, line = plot.lines
    assert list(diagonal.get_xdata()) == list(diagonal.get_ydata()) == [0.0, 100.0]
    assert [at for at, y in enumerate(line.get_ydata()) if y != y] == [2, 4]


def test_one_ink() -> None:
    """Greys only: nothing is said by a colour."""
    from matplotlib.colors import to_rgb

    figure = reliability_figure(made())
    inks = {line.get_color() for axes in figure.axes for line in axes.lines}
    inks |= {x.get_color() for axes in figure.axes for x in axes.texts}
    inks |= {
        tuple(x) for axes in figure.axes for y in axes.collections for x in y.get_facecolor()
    }
    inks |= {x.get_edgecolor() for axes in figure.axes for x in axes.patches}
    assert all(len(set(to_rgb(ink))) == 1 for ink in inks)


def around(axes) -> list:
    """The words and numbers along the sides of a plot."""
    if not axes.axison:
        return []
    sides = (axes.xaxis, axes.yaxis)
    return [x for side in sides for x in (side.label, *side.get_ticklabels())]


@pytest.mark.parametrize("name", CASES)
def test_nothing_is_cut_off_and_no_words_touch(name: str) -> None:
    """Every text lies inside the picture, and no two lie over each other."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure = reliability_figure(CASES[name]())
    FigureCanvasAgg(figure).draw()
    width, height = figure.get_size_inches() * figure.dpi
    boxes = [
        x.get_window_extent()
        for axes in figure.axes
        for x in (*axes.texts, *around(axes))
        if x.get_text().strip()
    ]
    assert all(box.x0 >= 0 and box.x1 <= width for box in boxes)
    assert all(box.y0 >= 0 and box.y1 <= height for box in boxes)
    assert not [
        (a, b)
        for at, a in enumerate(boxes)
        for b in boxes[at + 1 :]
        if a.x0 < b.x1 and b.x0 < a.x1 and a.y0 + 1 < b.y1 and b.y0 + 1 < a.y1
    ]


@pytest.mark.parametrize("name", CASES)
def test_the_picture_says_what_the_text_says(name: str) -> None:
    """The sentence, what was played, the cautions and credits; never NaN."""
    replay = CASES[name]()
    said = flat(" ".join(texts(replay)))
    assert how_chances_held(replay.tenths) in said
    assert f"{replay.windows:,} windows scored" in said
    assert "every score here flatters" in said
    assert all(x in said for x in replay.credits)
    assert not FORBIDDEN.findall(said)
