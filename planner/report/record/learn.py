"""The JSON contract ``learn/1``: how far past forecasts missed, and the table made of it.

Keys may be added in later versions and are never renamed; no data is null. Beyond what the
names say:

* ``file`` is the table that was written, ``name`` what faces call it; ``leans_on`` names
  the table that few pairs leave as it is, null for a table that stands alone.
* ``first`` and ``last`` are the first hour and the last of which forecast and truth are
  known; ``months`` are those that the table must not be scored on.
* ``cases`` counts hours with a forecast and what came, each forecast's of its own.
* ``misses[]``: of the hours within half a day of ``days_ahead``. ``as_it_comes`` and
  ``after`` are root mean squares of the forecast's error and of the error that is left,
  the latter on the hours learned from; ``too_high`` is the mean error. In m/s, air in K.
  ``lasts_h`` is the number of hours apart at which errors are correlated by a half.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from planner.report.record.windows import iso, number, version_here

if TYPE_CHECKING:
    from planner.history.misses import Learned, Miss

    Record = dict[str, Any]


def learn_json(learned: Learned) -> Record:
    """Give what was learned as the ``learn/1`` record, for programs.

    Parameters
    ----------
    learned : Learned
        The table and what it was learned from.

    Returns
    -------
    dict
        Every key of the contract; numbers in SI, times with the place's offset.
    """
    error, zone = learned.error, learned.time_zone
    return {
        "schema": "learn/1",
        "planner": version_here(),
        "file": learned.file,
        "name": error.name,
        "source": error.source,
        "truth": error.truth,
        "leans_on": learned.leans_on or None,
        "latitude": error.latitude,
        "longitude": error.longitude,
        "time_zone": zone,
        "first": iso(learned.first, zone),
        "last": iso(learned.last, zone),
        "months": list(error.months),
        "forecasts": learned.forecasts,
        "cases": error.cases,
        "misses": [_miss(x) for x in learned.misses],
        "credits": list(learned.credits),
        "notes": list(learned.notes),
    }


def _miss(miss: Miss) -> Record:
    return {
        "quantity": miss.quantity,
        "days_ahead": miss.days_ahead,
        "cases": miss.cases,
        "as_it_comes": number(miss.as_it_comes),
        "after": number(miss.after),
        "too_high": number(miss.too_high),
        "lasts_h": number(miss.lasts),
    }
