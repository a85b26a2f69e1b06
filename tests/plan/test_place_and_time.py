"""What a plan refuses to rest on: weather of a far place, and hours nobody has measured."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd
import pytest

from planner.errors import WeatherError
from planner.plan.now import time_to_plan_from
from planner.plan.place_check import distance, refuse_far
from planner.weather.table import WeatherPlace
from tests.hours.made import changed, weather

HERE = SimpleNamespace(latitude=44.02, longitude=-91.4)


@pytest.mark.parametrize(("north", "refused"), [(44.02, False), (45.7, False), (46.0, True)])
def test_weather_of_a_far_place(north, refused):
    """One degree of latitude is 111.2 km on a globe of 6371 km; over 200 km is too far."""
    there = WeatherPlace(latitude=north, longitude=-91.4)
    if not refused:
        refuse_far(HERE, there)
        return
    with pytest.raises(WeatherError, match=r"220 km.*planned for"):
        refuse_far(HERE, there)


def test_a_file_that_names_no_place_is_not_refused_here():
    """That it does not say is a doubt of its own."""
    refuse_far(HERE, WeatherPlace())
    assert distance(HERE, WeatherPlace()) is None


def test_a_record_of_hours_to_come():
    """Filled from a model perhaps, but measured by nobody; a past record has its own time."""
    record = changed(weather(48), kind="observed")
    end = record.times[-1]
    assert time_to_plan_from(None, "UTC", record, clock=end + pd.Timedelta("1h")) is None
    with pytest.raises(WeatherError, match="after now"):
        time_to_plan_from(None, "UTC", record, clock=end - pd.Timedelta("1h"))
