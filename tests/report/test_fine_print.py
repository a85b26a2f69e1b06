"""Cautions and notes that every face carries."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.plan.records import ColumnState, Plan
from planner.report.yard.fine_print import ONE_FORECAST, cautions, notes
from planner.weather.table import Note

LINE = 80 - 12  # what is left beside the label of the first screen

#: What a caution has to speak of: section 8 of the design.
SPOKEN_OF = (
    ("meter in your hand",),
    ("not permission",),
    ("Wind",),
    ("ladders",),
    ("Overhead lines",),
    ("Thunder", "30 min"),
    ("heat",),
    ("hot metal",),
    ("slippery",),
    ("shocks",),
    ("Nobody else",),
    ("One caller",),
    ("open end", "unbraced"),
    ("local codes", "maker's data"),
    ("licensed engineer",),
    ("estimate",),
)


@pytest.mark.parametrize("units", ["us", "si"])
def test_cautions_are_whole_and_fit(plan: Plan, units: str) -> None:
    """Every danger is named, each caution on one line."""
    said = cautions(plan.job, keep_clear=20.1, units=units)
    assert all(len(line) <= LINE for line in said)
    assert all(any(all(word in line for word in row) for line in said) for row in SPOKEN_OF)


def test_the_distance_is_in_the_reader_s_unit(plan: Plan) -> None:
    """20.1 m is 66 ft."""
    assert any("20 m" in x for x in cautions(plan.job, keep_clear=20.1, units="si"))
    assert any("66 ft" in x for x in cautions(plan.job, keep_clear=20.1, units="us"))


def test_thunder_wait_is_the_job_s(plan: Plan) -> None:
    """A job file that asks for 45 minutes after thunder is told 45."""
    job = replace(plan.job, thunder_wait=45.0)
    assert any("45 min" in x for x in cautions(job, keep_clear=20.0, units="si"))


def test_doubts_come_before_the_rest(plan: Plan) -> None:
    """What is doubted is read before what is only said."""
    doubt = Note(code="far", text="The weather is for a place 60 km away.", doubt=True)
    said = notes(replace(plan, notes=(*plan.notes, doubt)))
    assert said.index(doubt.text) < said.index(plan.notes[0].text)


@pytest.mark.parametrize(
    ("column", "said"),
    [
        (
            ColumnState(name="wind_gust", origin="estimated", hours=240),
            "All 240 gusts are estimated: the file has none.",
        ),
        (
            ColumnState(name="temp_air", origin="given", hours=3),
            "3 of 240 air temperatures are missing in the file and were filled.",
        ),
        (
            ColumnState(name="wind_gust", origin="missing", hours=0),
            "The file has no gusts.",
        ),
    ],
)
def test_what_was_filled_is_counted(plan: Plan, column: ColumnState, said: str) -> None:
    """Blank, filled and missing columns each get their sentence."""
    weather = replace(plan.weather, columns=(column,))
    assert said in notes(replace(plan, weather=weather))


def test_one_forecast_is_said_once(plan: Plan) -> None:
    """The planner's own note on it gives way; many possible weathers have neither."""
    note = Note(code="taken-as-it-comes", text="The forecast is taken as it comes.", doubt=True)
    said = notes(replace(plan, notes=(note,)))
    assert [x for x in said if "as it comes" in x] == [ONE_FORECAST]
    many = replace(plan, notes=(), weather=replace(plan.weather, members=500))
    assert ONE_FORECAST not in notes(many)


def test_what_chances_rest_on_comes_before_the_doubt_about_it(plan: Plan) -> None:
    """ "Those forecasts" needs the sentence that names them."""
    rest = Note(code="chances-from", text="Chances rest on forecasts of Quillet.")
    doubt = Note(code="learned-elsewhere", text="Those were for another place.", doubt=True)
    said = notes(replace(plan, notes=(rest, doubt, *plan.notes)))
    assert said.index(rest.text) + 1 == said.index(doubt.text)


def test_a_record_is_called_a_record(case) -> None:
    """A station record is not called a forecast."""
    said = " ".join(notes(case("station record")))
    assert "record of past weather" in said
    assert "forecast" not in said.lower()


def test_blank_gusts_are_counted_once(plan: Plan) -> None:
    """The reader's own note on blank gusts gives way to the count of those filled."""
    note = Note(code="gusts_missing", text="28 of 240 gusts are missing.")
    said = notes(replace(plan, notes=(note,)))
    assert [x for x in said if "28 of 240" in x] == [
        "28 of 240 gusts are missing in the file and were estimated."
    ]
    full = replace(plan, notes=(note,), weather=replace(plan.weather, columns=()))
    assert note.text in notes(full)
