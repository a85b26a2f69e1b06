"""Packed weather files are opened, but never without bound."""

import gzip
import io
import tracemalloc
import zipfile

import pytest

from planner.errors import WeatherError
from planner.weather.file.packed import unpack

HEAD = b"time,temp_air,wind_speed,wind_gust,precipitation\n"


@pytest.mark.parametrize("ending", ["gz", "zip"])
def test_a_file_that_swells_is_refused_before_it_fills_the_memory(ending):
    """A packed file of a thousandth of its size is opened no further than the cap."""
    rows = HEAD + b"\n" * 3_000_000
    box = io.BytesIO()
    if ending == "gz":
        box.write(gzip.compress(rows))
    else:
        with zipfile.ZipFile(box, "w", zipfile.ZIP_DEFLATED) as packed:
            packed.writestr("a.csv", rows)
    assert len(box.getvalue()) < 10_000
    assert unpack(box.getvalue(), "a", most=len(rows)) == rows
    tracemalloc.start()
    with pytest.raises(WeatherError, match="larger than 1 MB") as caught:
        unpack(box.getvalue(), "a", most=1_000_000)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert caught.value.fix
    assert peak < 4_000_000
