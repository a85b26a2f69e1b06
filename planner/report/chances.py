"""How chances and costs are written where there are many possible weathers."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from planner.report.words import of_100, plain

if TYPE_CHECKING:
    import datetime as dt

    from planner.hours.records import Reason
    from planner.plan.records import WeatherState
    from planner.report.words import Words

_WINDS: Final = {"gust": "gust", "mean_wind": "wind"}
_BOUNDS: Final = frozenset({*_WINDS, "temp_air", "temp_film", "film_swing", "heat", "chill"})


def trouble(reason: Reason, words: Words, *, on: dt.date | None = None) -> str:
    """Say what is likeliest to stop the work, and in how many of the possible weathers.

    Parameters
    ----------
    reason : Reason
        The limit that fails most.
    words : Words
        How the reader is spoken to.
    on : datetime.date, optional
        The day that is named already.

    Returns
    -------
    str
        ``"a gust over 9.6 mph at 8:00 am, in 14 of 100"``.
    """
    said = words.trouble(reason, on=on)
    hopeless = reason.quantity in _WINDS and reason.bound <= 0.0
    if hopeless or not 0.0 < reason.share < 1.0:
        return said
    return f"{said}, in {of_100(reason.share)}"


def brief_trouble(reason: Reason, words: Words, *, on: dt.date | None = None) -> str:
    """Say in a few words what is likeliest to stop the work.

    Parameters
    ----------
    reason : Reason
        The limit that fails most, or the closest one if none does.
    words : Words
        How the reader is spoken to.
    on : datetime.date, optional
        The day that is named already.

    Returns
    -------
    str
        ``"gust over 9.6, 8:00 am"``; the wind's unit stands elsewhere.
    """
    if reason.share <= 0.0 or reason.quantity == "no data":
        return words.compared(reason, on=on)
    if reason.quantity not in _BOUNDS or (reason.bound <= 0.0 and reason.quantity in _WINDS):
        return words.trouble(reason, on=on)
    name, _, _ = words.name(reason.quantity).partition(" (")
    name = _WINDS.get(reason.quantity, name)
    past = "over" if reason.side == "at most" else "under"
    bound = words.amount(reason.bound, reason.quantity, unit=reason.quantity not in _WINDS)
    return f"{name} {past} {bound}, {words.moment(reason.at, on=on)}"


def needed(chance: float, needs: float) -> int:
    """Give the chance that a go needs in whole hundredths, above the one that falls short.

    Parameters
    ----------
    chance : float
        That is too low [-].
    needs : float
        That it takes [-].

    Returns
    -------
    int
        Never what the chance itself is rounded to [hundredths].

    Examples
    --------
    >>> needed(0.53, 0.7), needed(0.749, 0.7501), needed(0.702, 0.704)
    (70, 76, 71)
    """
    return max(math.ceil(round(100.0 * needs, 6)), round(100.0 * chance) + 1)


def money(amount: float, sign: str, *, figures: int = 2) -> str:
    """Write an amount of money no finer than it is known.

    Parameters
    ----------
    amount : float
        In the money of the job file [money].
    sign : str
        Of that money.
    figures : int
        How many are kept [-].

    Returns
    -------
    str
        A sign stands before the number, a word behind it.

    Examples
    --------
    >>> money(1872.0, "$"), money(286.2, "EUR"), money(0.0644, "sheets")
    ('$1,900', '290 EUR', '0.064 sheets')
    """
    number = f"{float(f'{amount:.{figures}g}'):,.10g}"
    sign = plain(sign).strip()
    return f"{number} {sign}" if sign[:1].isalnum() else f"{sign}{number}"


def two_costs(first: float, second: float, sign: str) -> tuple[str, str]:
    """Write two costs so that they can be told apart, if need be by one figure more.

    Parameters
    ----------
    first, second : float
        The costs [money].
    sign : str
        Of the money.

    Returns
    -------
    tuple of str
        Both with as many figures.

    Examples
    --------
    >>> two_costs(128.1, 286.2, "$"), two_costs(286.2, 290.9, "$")
    (('$130', '$290'), ('$286', '$291'))
    """
    rough = money(first, sign), money(second, sign)
    if rough[0] != rough[1]:
        return rough
    return money(first, sign, figures=3), money(second, sign, figures=3)


def holds(chance: float, weather: WeatherState) -> str:
    """Say how far a window can be relied on; one course of the weather gives no chance."""
    if weather.members > 1:
        return f"Holds in {of_100(chance)}."
    if weather.kind == "observed":
        return "Inside every limit of this record."
    return "Inside every limit on this one forecast."
