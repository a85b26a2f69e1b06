"""Words for slack, pull and tension, on the first screen and on that of ``tension``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from planner.reference.tables import value
from planner.report.words import capital
from planner.units import show

if TYPE_CHECKING:
    from planner.hours.records import Window
    from planner.plan.records import ChartRow, Strain
    from planner.report.words import Words

#: What the hand does.
HAND: Final = {
    "slack": "leave a hand's slack",
    "snug": "snug",
    "pull": "pull",
    "no-data": "no data",
}
_REMEDY: Final = {
    "slack-hot": "A higher stress-free temperature leaves less of it.",
    "tension-cold": "A lower stress-free temperature eases it, a stronger channel holds it.",
    "gust-over-channel": "Have straps or cords over the sheet before it comes.",
}
_AGAINST: Final = {
    "film-cold": "The film is too cold to pull: stiff, and it creases.  Wait for the sun.",
    "film-hot": "The film is too hot to pull: it stretches under the hand.  Wait for shade.",
    "hard-pull": "That is too hard a pull for hands, film or channel: wait for warmer film.",
}


def at_the_locks(window: Window, words: Words) -> str | None:
    """Say how far to pull at the locks, or None where that was not worked out.

    Parameters
    ----------
    window : Window
        Of the step in which the tension is set.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    str or None
        Film temperature, pull by span, the first night, and the shaded side if it differs.
    """
    if window.film_temp is None:
        return None
    said = f"Film {show(window.film_temp, 'temperature', words.units)} at the locks"
    if window.pull:
        said += ": " + ", ".join(words.pull_span(span, mm) for span, mm in window.pull.items())
    said += "."
    if window.first_night is not None:
        said += f"  First night about {band(window.first_night, words.units)}."
    shaded = window.film_temp_shaded
    if shaded is not None and abs(shaded - window.film_temp) >= value(
        "planning", "sides_differ"
    ):
        said += (
            f"  Shaded side {show(shaded, 'temperature', words.units)}: "
            "its own row of the pull chart."
        )
    return said


def band(tension: tuple[float, float, float], units: str) -> str:
    """Write a tension as a band, its middle left out.

    Parameters
    ----------
    tension : tuple of float
        At least, in the middle and at most [N/m].
    units : {"us", "si"}
        Which unit is written [-].

    Returns
    -------
    str
        ``"slack"`` where there is none.

    Examples
    --------
    >>> band((50.3, 80.0, 191.0), "us"), band((0.0, 0.0, 0.0), "si")
    ('3 to 13 lbf/ft', 'slack')
    """
    low, _, high = tension
    if high == 0.0:
        return "slack"
    ends = [show(x, "force per length", units, unit=False) for x in (low, high)]
    whole = show(high, "force per length", units)
    return whole if ends[0] == ends[1] else f"{ends[0]} to {whole}"


def beyond(strain: Strain, words: Words) -> str:
    """Say what leaves the band and when, without a full stop.

    Parameters
    ----------
    strain : Strain
        What is more than is well.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    str
        ``"Slack 1 3/4 in over the bows Wed May 13 2:00 pm, 1 1/4 in is well"``.
    """
    value, allowed = (
        words.small(x) if strain.unit == "mm" else show(x, "force per length", words.units)
        for x in (strain.value, strain.allowed)
    )
    if value == allowed:
        value = f"just over {allowed}"
    at = words.moment(strain.at)
    return {
        "slack-hot": f"Slack {value} over the bows {at}, {allowed} is well",
        "tension-cold": f"Tension up to {value} {at}, {allowed} is well",
        "gust-over-channel": f"The gust of {at} pulls {value}, channel holds {allowed}",
    }.get(strain.code, f"{strain.code}: {value} {at}, {allowed} is well")


def remedy(strain: Strain) -> str:
    """Say what helps against it; nothing for a code that is not known."""
    return _REMEDY.get(strain.code, "")


def to_do(row: ChartRow, words: Words) -> list[str]:
    """Say what the hand does with film of one temperature, and what speaks against it.

    Parameters
    ----------
    row : ChartRow
        Of the pull chart.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    list of str
        One sentence each.
    """
    temp = show(row.film_temp, "temperature", words.units)
    against = [_AGAINST[code] for code in row.against]
    spans = ", ".join(words.pull_span(span, mm) for span, mm in row.pull.items())
    lines = [*against, f"Film {temp} at the locks: {spans}."]
    if row.hand == "pull":
        force = show(row.force, "force per length", words.units, unit=False)
        each = (
            "lbf on each foot of one layer"
            if words.units == "us"
            else "N on each metre of one layer"
        )
        lines.append(f"Pulled as far as that it takes about {force} {each}.")
    elif row.sag > 0.0:
        hand, sag, lift = HAND[row.hand], words.small(row.sag), words.small(row.lift)
        lines.append(
            f"{capital(hand)}: right when it sags {sag} midway between bows"
            + ("." if lift in {"0 in", "0 mm"} else f", or lifts {lift} off the ridge.")
        )
    return lines


#: The same in a few words, for a row of the chart.
TOO: Final = {
    "film-cold": "too cold: wait",
    "film-hot": "too hot: wait",
    "hard-pull": "too hard: wait",
}


def chart_cells(row: ChartRow, words: Words) -> tuple[str, ...]:
    """Write a row of the pull chart: film, pull along each span, sag, what the hand does.

    Parameters
    ----------
    row : ChartRow
        Of the pull chart.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of str
        Where something speaks against pulling, that alone is what the hand is told.
    """
    film = show(row.film_temp, "temperature", words.units)
    if row.against:
        return (film, *("-" for _ in row.pull), "-", TOO[row.against[0]])
    return (
        film,
        *(pull_cell(mm, words) for mm in row.pull.values()),
        words.small(row.sag) if row.sag > 0.0 else "-",
        HAND[row.hand],
    )


def pull_cell(pull: float, words: Words) -> str:
    """Write one cell of the pull chart.

    Parameters
    ----------
    pull : float
        Past snug, negative to leave slack [mm].
    words : Words
        How the reader is spoken to.

    Returns
    -------
    str
        ``"pull 1 1/4 in"``, ``"slack 30 mm"``, ``"snug"``.
    """
    amount = words.small(pull)
    if amount in {"0 in", "0 mm"}:
        return "snug"
    if amount == "no data":
        return amount
    return f"{'pull' if pull > 0 else 'slack'} {amount}"
