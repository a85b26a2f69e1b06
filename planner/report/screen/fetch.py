"""What ``fetch`` says: what came, for which hours, how old it is, and where it lies now."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from planner.report.screen.first import item, items
from planner.report.screen.found import dated, weather_facts
from planner.report.words import Words
from planner.weather.hourly.issued import age_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.job.records import Job
    from planner.weather.live.fetch import Fetched

_SHOWN: Final = ("Place", "Hours", "Issued", "Gusts")
_ISSUED: Final = {"fetched": "when this was first fetched", "answer": "as the service says"}
_THEN: Final = ("Doubts", "Notes", "Credit")
_KINDS: Final = {"observed": "What a station measured", "ensemble": "Possible weathers"}
_SAID: Final = "stale"  # the first lines say it


def fetch_text(
    fetched: Fetched, *, job: Job, units: str, files: Sequence[str], further: str
) -> str:
    """Say what was fetched.

    Parameters
    ----------
    fetched : Fetched
        What came.
    job : Job
        Whose place it is for; times are in its zone.
    units : {"us", "si"}
        Which units to write.
    files : sequence of str
        What was written.
    further : str
        The command that comes next.

    Returns
    -------
    str
        Lines of at most 80 columns of ASCII; an old copy says so first.
    """
    answer, weather = fetched.answer, fetched.weather
    lines: list[str] = []
    if answer.stale:
        old = f"OLD COPY, {age_of(answer.age)} old, because {answer.why}."
        lines += [*item("", old, width=0), ""]
    what = _KINDS.get(weather.kind, "A forecast")
    title = f"{what} from {fetched.service.title}, for {job.name}."
    lines += item("", title, width=0)
    doubts = [note.text for note in weather.notes if note.doubt and note.code == _SAID]
    words = Words(units=units, time_zone=job.place.time_zone)
    facts = weather_facts(weather, words)
    if weather.issued is not None:
        how = _ISSUED[fetched.service.issued]
        facts["Issued"] = [f"{dated(weather.issued, words)}, {how}"]
    facts["Doubts"] = [text for text in facts["Doubts"] if text not in doubts]
    for label in _SHOWN:
        lines += items(label, facts[label])
    lines += item("Age", _age(fetched))
    for label in _THEN:
        lines += items(label, facts[label])
    lines += items("Written", files)
    return "\n".join([*lines, "", f"Next: {further}"])


def _age(fetched: Fetched) -> str:
    age = age_of(fetched.answer.age)
    if fetched.answer.stale:
        return f"{age}, an old copy"
    if fetched.answer.kept:
        return f"{age}, a copy of an answer that still serves"
    return "just fetched"
