"""The weather that a plan reckons with: certain where it was seen or not drawn."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from planner.hours.spans import draw_paces
from planner.plan.possible import Draw, possible_conditions
from planner.weather.miss.error_file import shipped_error
from tests.hours.made import job, weather

COUNT = 60


@pytest.fixture(scope="module")
def the_job(tmp_path_factory):
    """Make the small job."""
    return job(tmp_path_factory.mktemp("job"))


def draw(the_job, **changes):
    """Draw from the shipped table as used at the job's place."""
    error = shipped_error().at(the_job.place.latitude, the_job.place.longitude)
    return Draw(**({"error": error, "count": COUNT} | changes))


def test_possible_weathers_have_equal_weights_and_paces_of_their_own(the_job):
    """As many as asked for, equally likely, each with a crew that is quicker or slower."""
    got = possible_conditions(the_job, weather(48), draw(the_job))
    assert got.weights == pytest.approx(np.full(COUNT, 1.0 / COUNT))
    assert got.values["gust"].shape == (COUNT, 48)
    assert sorted(got.pace) == pytest.approx(sorted(draw_paces(COUNT, 1)))
    assert (got.pace > 1.0).mean() == pytest.approx(0.5, abs=0.1)


def test_the_pace_of_the_job_file_for_certain(the_job):
    """Not paced: every possible weather meets the crew's own pace, in the same weathers."""
    paced, plain = (
        possible_conditions(the_job, weather(48), draw(the_job, paced=x)) for x in (True, False)
    )
    assert (plain.pace == 1.0).all()
    np.testing.assert_array_equal(plain.values["gust"], paced.values["gust"])


@pytest.mark.parametrize("kind", ["observed", "forecast"])
def test_one_certain_weather(the_job, kind):
    """What was seen is not drawn, nor is a forecast without a table: the file as it is."""
    table = weather(48, kind=kind)
    changes = {} if kind == "observed" else {"error": None}
    got = possible_conditions(the_job, table, draw(the_job, **changes))
    assert got.weights.tolist() == [1.0]
    assert (got.pace == 1.0).all()
    np.testing.assert_array_equal(got.values["temp_air"], table.values["temp_air"])


def test_the_same_seed_the_same_weathers(the_job):
    """And another seed others, of pace and of wind."""
    first, again, other = (
        possible_conditions(the_job, weather(48), draw(the_job, seed=seed))
        for seed in (3, 3, 4)
    )
    for name in ("gust", "temp_air", "rain"):
        np.testing.assert_array_equal(first.values[name], again.values[name])
    assert (first.values["gust"] != other.values["gust"]).mean() > 0.9
    assert (first.pace == again.pace).all()
    assert (first.pace != other.pace).any()


def test_earlier_forecasts_are_used(the_job):
    """A run of six hours before that saw more wind changes what is drawn now."""
    table = weather(72)
    before = weather(78, wind_gust=5.0, wind_speed=2.0)
    before = replace(
        before,
        times=before.times - pd.Timedelta(hours=6),
        issued=table.issued - pd.Timedelta(hours=6),
    )
    plain, with_it = (
        possible_conditions(the_job, table, draw(the_job, earlier=earlier))
        for earlier in ((), (before,))
    )
    assert not np.allclose(plain.values["gust"], with_it.values["gust"])
