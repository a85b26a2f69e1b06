"""What learn says on a terminal, and its record for programs."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace

import pandas as pd
import pytest

from planner.history.misses import DAYS_AHEAD, Learned, Miss
from planner.report.record.learn import learn_json
from planner.report.record.windows import dumps
from planner.report.screen.learn import learn_text
from planner.weather.miss.error_file import shipped_error

FORBIDDEN = re.compile(r"\b(nan|members?|margin|p90|inf)\b", re.IGNORECASE)
NO = math.nan


def misses(scale: float = 1.0) -> tuple[Miss, ...]:
    """Rows by hand, the last of them without a case."""
    return tuple(
        Miss(
            quantity=which,
            days_ahead=days,
            cases=0 if days == 5 else 1_234,
            as_it_comes=NO if days == 5 else scale * 2.2352,
            after=NO if days == 5 else scale * 1.1176,
            too_high=NO if days == 5 else -scale * 0.44704,
            lasts=NO if days == 5 else 3.4,
        )
        for which in ("gust", "wind", "temp")
        for days in DAYS_AHEAD
    )


def learned(**more: object) -> Learned:
    about = {
        "error": replace(shipped_error(), name="mine", latitude=-44.02, longitude=91.4),
        "file": "mine.toml",
        "forecasts": 1_234,
        "first": pd.Timestamp("2030-03-04 03:00", tz="UTC"),
        "last": pd.Timestamp("2031-03-18 12:00", tz="UTC"),
        "time_zone": "America/Chicago",
        "leans_on": "shipped",
        "misses": misses(),
        "credits": ("An invented service, CC BY 4.0",),
        "notes": ("12 of 8,640 gusts are missing – 0.1 %.",),
    }
    return Learned(**(about | more))


CASES = {
    "made": learned(),
    "wide": learned(forecasts=987_654, misses=misses(40.0)),
    "bare": learned(credits=(), notes=(), misses=(), leans_on=""),
}


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("case", CASES)
def test_the_face_fits_a_terminal(case: str, units: str) -> None:
    """80 columns of ASCII without the words kept for the code."""
    text = learn_text(CASES[case], units=units)
    assert max(map(len, text.splitlines())) <= 80
    assert text.isascii()
    assert not FORBIDDEN.findall(text)
    assert not any(line != line.rstrip() for line in text.splitlines())


def test_numbers_stand_under_their_day() -> None:
    """5.0 mph is 2.2352 m/s; a day without a case has a dash, never a nought."""
    lines = learn_text(learned(), units="us").splitlines()
    head = next(line for line in lines if line.endswith("5") and "days ahead" in line)
    gust = lines[lines.index(head) + 1]
    assert gust.split() == ["Gust,", "mph", "as", "it", "comes", *["5.0"] * 4, "-"]
    assert [at for at in range(len(head)) if head[at].isdigit()] == [
        at for at in range(1, len(gust)) if gust[at] in "0-" and gust[at - 1] in ". "
    ]
    high = lines[lines.index(head) + 3]
    assert high.split() == ["too", "high", "by", *["-1.0"] * 4, "-"]


def test_air_is_a_difference_of_temperature() -> None:
    """A miss of 2.2352 K is 4.0 F, not 36."""
    text = learn_text(learned(), units="us")
    air = next(line for line in text.splitlines() if line.startswith("Air, F"))
    assert air.split()[5] == "4.0"


def test_what_it_rests_on_is_said() -> None:
    """Place, days by the local clock, cases, what it was held against, what it leans on."""
    text = " ".join(learn_text(learned(), units="si").split())
    assert "44.02 S 91.40 E" in text
    assert "1,234 forecasts, Sun Mar 3, 2030 to Tue Mar 18, 2031" in text
    assert "leans on the one that comes" in text
    assert "stands alone" in learn_text(learned(leans_on=""), units="si")
    station = replace(learned().error, truth="station")
    assert "what a station measured" in " ".join(
        learn_text(learned(error=station), units="si").split()
    )
    assert "real misses are larger" in text


def test_the_next_command_can_be_pasted() -> None:
    """A name with a space is quoted, a long one is not broken."""
    assert "--error 'my table.toml'" in learn_text(learned(file="my table.toml"), units="si")
    long = f"{'far/' * 30}mine.toml"
    assert f"--error {long}" in learn_text(learned(file=long), units="si")


def test_the_record_is_strict_json() -> None:
    """The same numbers in SI; null where there is none; times with the place's offset."""
    record = learn_json(learned())
    assert json.loads(dumps(record)) == record
    assert record["schema"] == "learn/1"
    assert (record["first"], record["time_zone"]) == (
        "2030-03-03T21:00:00-06:00",
        "America/Chicago",
    )
    assert len(record["misses"]) == 3 * len(DAYS_AHEAD)
    first, last = record["misses"][0], record["misses"][4]
    assert (first["as_it_comes"], first["lasts_h"]) == (pytest.approx(2.2352, abs=1e-3), 3.4)
    assert (last["days_ahead"], last["cases"], last["after"]) == (5, 0, None)
    assert learn_json(learned(leans_on=""))["leans_on"] is None
