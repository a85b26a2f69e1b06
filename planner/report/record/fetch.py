"""The JSON contract ``fetch/1``: what was fetched, from where, how old, and where it lies.

Keys may be added in later versions and are never renamed; no data is null. Beyond what the
names say:

* ``asked`` are the addresses that were asked, in order; ``fetched`` is the service's time
  of the answer. ``kept`` says that it is a copy, ``stale`` that the copy no longer serves
  and is given because nothing better was to be had, ``why`` the reason in words.
* ``issued`` is the time at which this very forecast was first fetched where the service does
  not say when it made it (``issued_from`` is then "fetched", else "answer").
* ``file`` is the table in the planner's own format, ``source_file`` says where it is from.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from planner.report.record.windows import iso, version_here

if TYPE_CHECKING:
    from planner.weather.live.fetch import Fetched


def fetch_json(
    fetched: Fetched, *, time_zone: str, file: str, source_file: str
) -> dict[str, Any]:
    """Give what was fetched as the ``fetch/1`` record, for programs.

    Parameters
    ----------
    fetched : Fetched
        What came.
    time_zone : str
        Of the place.
    file, source_file : str
        What was written.

    Returns
    -------
    dict
        Every key of the contract; times with the place's offset.
    """
    answer, weather, service = fetched.answer, fetched.weather, fetched.service
    place, issued = weather.place, weather.issued
    return {
        "schema": "fetch/1",
        "planner": version_here(),
        "service": service.name,
        "asked": list(fetched.asked),
        "fetched": answer.fetched.isoformat(),
        "age_minutes": round(answer.age.total_seconds() / 60),
        "kept": answer.kept,
        "stale": answer.stale,
        "why": answer.why or None,
        "kind": weather.kind,
        "members": weather.members,
        "hours": weather.hours,
        "first": iso(weather.times[0], time_zone),
        "last": iso(weather.times[-1], time_zone),
        "issued": None if issued is None else iso(issued, time_zone),
        "issued_from": service.issued or None,
        "latitude": place.latitude,
        "longitude": place.longitude,
        "gust_meaning": weather.gust_meaning,
        "credit": weather.credit,
        "license": service.license,
        "file": file,
        "source_file": source_file,
        "notes": [{"code": x.code, "text": x.text, "doubt": x.doubt} for x in weather.notes],
    }
