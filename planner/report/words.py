"""All the wording of every face: reasons, where limits come from, clocks; plain ASCII."""

from __future__ import annotations

import datetime as dt
import math
import re
import textwrap
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from planner.job.records import QUANTITIES
from planner.units import convert, show

if TYPE_CHECKING:
    import pandas as pd

    from planner.hours.records import Reason
    from planner.job.records import Job, Limit
    from planner.plan.records import LightDay

#: Names of days and months, three letters each, whatever the computer's language.
_DAYS: Final = "MonTueWedThuFriSatSun"
_MONTHS: Final = "JanFebMarAprMayJunJulAugSepOctNovDec"
ANSWERS: Final = {"go": "GO", "hold": "HOLD", "no-go": "NO-GO", "no-data": "NO DATA"}

#: quantity -> how units.py calls what it measures.
_DIMENSION: Final = {"m/s": "speed", "degC": "temperature", "K": "temperature difference",
                     "mm": "rain", "min": "duration", "deg": "angle"}  # fmt: skip
#: quantity -> (its name in a list of limits, what is said when it is passed).
_SAID: Final = {
    "gust": ("gust", "a gust over {bound}{at}"),
    "mean_wind": ("steady wind", "a steady wind over {bound}{at}"),
    "rain": ("rain", "rain{start}"),
    "temp_air": ("air", "air {past} {bound}{at}"),
    "temp_film": ("film", "film {past} {bound}{at}"),
    "film_swing": ("film swing", "film temperature moving over {bound}{at}"),
    "wetness": ("wet film", "film too wet{at}"),
    "frost": ("frost", "frost on the frame{at}"),
    "light": ("light", "too little work light{at}"),
    "sun": ("sun height", "sun {past} {bound}{at}"),
    "heat": ("heat (wet-bulb globe)", "heat {past} {bound}{at}"),
    "chill": ("wind chill", "wind chill {past} {bound}{at}"),
    "thunder": ("thunder", "thunder{at}"),
    "thunder_ahead": ("thunder in the hours after", "thunder to come after{at}"),
    "crew_hours": ("crew hours", "outside crew hours{at}"),
    "no data": ("no data", "no data in the file for{on}"),
}
_YES_OR_NO: Final = {
    "wetness": "film and rungs dry",
    "frost": "no frost",
    "thunder": "no thunder",
    "thunder_ahead": "no thunder in the hours after",
    "light": "inside work light",
    "crew_hours": "inside crew hours",
}


_KEPT: Final = "\x1f"  # stands for a space at which no line is broken
_GLUE: Final = re.compile(
    r"\b[A-Z][a-z]{2} [A-Z][a-z]{2} \d+( \d+:\d\d)?( [ap]m)?|\d:\d\d [ap]m|\d+ h \d+ min"
    r"|\d (\d/\d )?(mph|m/s|min|mm|in|ft|F|C|of 100|h|N/m|lbf/ft)\b"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """How one reader is spoken to: units, the place's clock, and its daylight.

    Attributes
    ----------
    units : {"us", "si"}
        Which units are written.
    time_zone : str
        Of the place; every time is written in it.
    light : tuple of LightDay
        Work light of the days that may be named.
    """

    units: str
    time_zone: str
    light: tuple[LightDay, ...] = ()

    def date(self, time: pd.Timestamp) -> dt.date:
        """Give the local day of a time."""
        return time.tz_convert(self.time_zone).date()

    def day(self, time: pd.Timestamp) -> str:
        """Write the local day: ``Thu Apr 30``."""
        return day(self.date(time))

    def zone(self, time: pd.Timestamp) -> str:
        """Write the short name of the local zone at a time: ``CDT``."""
        return time.tz_convert(self.time_zone).strftime("%Z")

    def clock(self, time: pd.Timestamp) -> str:
        """Write the local time of day: ``6:15 am``, or ``06:15`` in SI."""
        local = time.tz_convert(self.time_zone)
        if self.units == "si":
            return f"{local.hour:02d}:{local.minute:02d}"
        return f"{local.hour % 12 or 12}:{local.minute:02d} {_half(local.hour)}"

    def moment(self, time: pd.Timestamp, *, on: dt.date | None = None) -> str:
        """Write a time, with its day unless that is the day ``on`` already named."""
        if on == self.date(time):
            return self.clock(time)
        return f"{self.day(time)} {self.clock(time)}"

    def until(self, time: pd.Timestamp) -> str:
        """Write the end of a stretch of time; midnight belongs to the day before it."""
        if self.clock(time) not in {"12:00 am", "00:00"}:
            return self.moment(time)
        return f"the end of {day(self.date(time) - dt.timedelta(days=1))}"

    def span(
        self,
        first: pd.Timestamp,
        last: pd.Timestamp,
        *,
        join: str = "to",
        on: dt.date | None = None,
    ) -> str:
        """Write a range: ``6:15 to 7:00 am``; with its day if another, ``on``, was named."""
        day = self.date(first)
        if on is not None and on != day:
            return f"{self.moment(first)} {join} {self.moment(last)}"
        if first == last:
            return self.clock(first)
        begin, end = self.clock(first), self.moment(last, on=day)
        if (
            self.units == "us"
            and begin[-3:] == end[-3:]
            and self.date(first) == self.date(last)
        ):
            begin = begin[:-3]
        return f"{begin} {join} {end}"

    def amount(self, value: float, quantity: str, *, unit: bool = True) -> str:
        """Write a value of a limited quantity in the reader's unit; no data if it has none."""
        if not math.isfinite(value):
            return "no data"
        dimension = _DIMENSION.get(QUANTITIES.get(quantity, ("", 0.0))[0])
        if dimension is None:
            return f"{value:g}"
        fine = dimension == "rain" and self.units == "us"
        return show(value, dimension, self.units, decimals=3 if fine else None, unit=unit)

    def trouble(self, reason: Reason, *, on: dt.date | None = None) -> str:
        """Say what stops the work: ``a gust over 5.1 mph at 7:00 am``."""
        if reason.quantity == "light":
            return self._light(reason, on)
        if reason.quantity in {"gust", "mean_wind"} and reason.bound <= 0.0:
            return f"too few hands to {reason.phase} in any wind"
        when = self.moment(reason.at, on=on)
        said = _SAID.get(reason.quantity, ("", reason.quantity.replace("_", " ") + "{at}"))[1]
        return said.format(
            bound=self.amount(reason.bound, reason.quantity),
            past="over" if reason.side == "at most" else "under",
            at=f" at {when}",
            start=f" from {when}",
            on=f" {when}",
        )

    def brief(self, reason: Reason, *, on: dt.date | None = None) -> str:
        """Say in a few words which limit is the closest, passed or not."""
        if reason.quantity in {"gust", "mean_wind"}:
            name = "gust" if reason.quantity == "gust" else "wind"
            number = self.amount(reason.value, reason.quantity)
            return f"{name} {number} at {self.moment(reason.at, on=on)}"
        if self.passed(reason) or reason.quantity in _YES_OR_NO:
            return self.trouble(reason, on=on)
        return f"{self.level(reason)} at {self.moment(reason.at, on=on)}"

    def name(self, quantity: str) -> str:
        """Name a limited quantity: ``gust``, ``wet film``."""
        return _SAID.get(quantity, (quantity.replace("_", " "), ""))[0]

    def compared(self, reason: Reason, *, on: dt.date | None = None) -> str:
        """Say in a few words what binds, a wind beside its limit: ``gust 5.0 over 4.0 ...``."""
        if reason.quantity == "no data":
            return "no data"
        if reason.quantity not in {"gust", "mean_wind"}:
            return self.brief(reason, on=on)
        value, bound = (
            self.amount(x, reason.quantity, unit=False) for x in (reason.value, reason.bound)
        )
        name = "gust" if reason.quantity == "gust" else "wind"
        how = "over" if self.passed(reason) else "of"
        return f"{name} {value} {how} {bound} at {self.moment(reason.at, on=on)}"

    def level(self, reason: Reason) -> str:
        """Write the quantity and its value: ``air 41 F``."""
        return f"{self.name(reason.quantity)} {self.amount(reason.value, reason.quantity)}"

    def closest(self, reason: Reason, *, on: dt.date | None = None) -> str:
        """Say which limit leaves the least room in a window that holds."""
        if reason.quantity in _YES_OR_NO:
            return self.brief(reason, on=on)
        return (
            f"{self.brief(reason, on=on)}, limit {self.amount(reason.bound, reason.quantity)}"
        )

    def passed(self, reason: Reason) -> bool:
        """Say whether the reason's value lies beyond its bound."""
        if reason.quantity == "no data":
            return True
        if math.isnan(reason.value):  # light that is over before the phase begins
            return reason.share > 0.0
        if reason.side == "at most":
            return reason.value > reason.bound
        return reason.value < reason.bound

    def _light(self, reason: Reason, on: dt.date | None) -> str:
        today = next((x for x in self.light if x.day == self.date(reason.at)), None)
        if today and today.begin is not None and self._before_dawn(reason, today):
            return f"no work light before {self.moment(today.begin, on=on)}"
        if today and today.end is not None:
            return f"light runs out at {self.moment(today.end, on=on)}"
        return f"no work light at {self.moment(reason.at, on=on)}"

    def _before_dawn(self, reason: Reason, today: LightDay) -> bool:
        """Whether light fails because the day has not begun rather than because it ends."""
        if today.begin is None or today.end is None:
            return today.begin is not None and reason.at < today.begin
        middle = today.begin + (today.end - today.begin) / 2
        return self.passed(reason) and reason.at < middle

    def limit(self, limit: Limit) -> str:
        """Write one limit: ``air at least 41 F``, ``no thunder``."""
        if limit.quantity in _YES_OR_NO:
            return _YES_OR_NO[limit.quantity]
        bound = self.amount(limit.bound, limit.quantity)
        return f"{self.name(limit.quantity)} {limit.side} {bound}"

    def origin(self, limit: Limit, *, others: tuple[Limit, ...] = ()) -> str:
        """Say where a limit comes from, a typed one beside the one it replaced.

        Parameters
        ----------
        limit : Limit
            The one that governs.
        others : tuple of Limit
            The phase's other limits, in which a typed one may have been overruled.

        Returns
        -------
        str
            ``"5 people hold it"``, ``"yours; 5 people hold 5.1"``.
        """

        def bare(bound: float) -> str:
            return self.amount(bound, limit.quantity, unit=False)

        if limit.kind == "yours":
            if limit.replaced is None or not math.isfinite(limit.replaced):
                return "yours"
            built_in = limit.replaced_source.removesuffix(" it")
            return f"yours; {built_in} {bare(limit.replaced)}"
        typed = [x for x in others if x.kind == "yours" and x.quantity == limit.quantity]
        said = plain(limit.source) or limit.kind
        return f"{said}; yours {bare(typed[0].bound)}" if typed else said

    def pull_span(self, span: str, pull: float) -> str:
        """Say how far past snug one span is pulled; ``pull`` is negative for slack [mm]."""
        amount = self.small(pull)
        if amount in {"0 in", "0 mm"}:
            return f"snug {span}"
        return f"pull {amount} past snug {span}" if pull > 0 else f"leave {amount} slack {span}"

    def small(self, length: float) -> str:
        """Write a length as a hand can set it, without sign: ``1 1/4 in``, ``30 mm`` [mm]."""
        if not math.isfinite(length):
            return "no data"
        return _inches(length) if self.units == "us" else f"{abs(to_5_mm(length))} mm"

    def house(self, job: Job) -> str:
        """Write the size of the house and the film: ``30 x 96 ft, 6 mil, one layer``."""
        unit = "ft" if self.units == "us" else "m"
        sides = [
            f"{convert(x, 'length', unit):.1f}" for x in (job.house.width, job.house.length)
        ]
        size = " x ".join(side.removesuffix(".0") for side in sides)
        fine = "mil" if self.units == "us" else "mm"
        film = f"{convert(job.film.thickness, 'length', fine):.2f}".rstrip("0").rstrip(".")
        layers = "one layer" if job.film.layers == 1 else "two layers"
        return f"{size} {unit}, {film} {fine}, {layers}"


def _half(hour: int) -> str:
    return "am" if hour < 12 else "pm"


def to_5_mm(length: float) -> int:
    """Round a length to what a hand can set [mm]."""
    return 5 * round(length / 5)


def _inches(millimetres: float) -> str:
    """Write a length to the quarter inch, without sign [in]."""
    whole, quarters = divmod(round(abs(millimetres) / 25.4 * 4), 4)
    part = {0: "", 1: "1/4", 2: "1/2", 3: "3/4"}[quarters]
    return " ".join(x for x in (str(whole) if whole or not part else "", part) if x) + " in"


def day(date: dt.date) -> str:
    """Write a day: ``Thu Apr 30``, whatever the computer's language."""
    weekday, month = 3 * date.weekday(), 3 * date.month - 3
    return f"{_DAYS[weekday : weekday + 3]} {_MONTHS[month : month + 3]} {date.day}"


def duration(minutes: float) -> str:
    """Write how long something takes.

    Parameters
    ----------
    minutes : float
        The time it takes [min].

    Returns
    -------
    str
        Under an hour and a half in minutes, else in hours and minutes.

    Examples
    --------
    >>> duration(40), duration(190), duration(120)
    ('40 min', '3 h 10 min', '2 h')
    """
    total = round(minutes)
    if total < 90:
        return f"{total} min"
    hours, rest = divmod(total, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def capital(text: str) -> str:
    """Write a text with a capital first letter, the rest as it is."""
    return f"{text[:1].upper()}{text[1:]}"


def people(count: int) -> str:
    """Write a number of people."""
    return "1 person" if count == 1 else f"{count} people"


def of_100(chance: float) -> str:
    """Write a chance as so many in a hundred, never a certainty that it is not.

    Examples
    --------
    >>> of_100(0.812), of_100(0.999), of_100(1.0)
    ('81 of 100', '99 of 100', '100 of 100')
    """
    count = round(chance * 100)
    if 0.0 < chance < 1.0:
        count = min(max(count, 1), 99)
    return f"{count} of 100"


def wrap(text: str, width: int, *, first: str = "", rest: str = "") -> list[str]:
    """Break a text into lines of ASCII, never inside a date, a time or an amount.

    Parameters
    ----------
    text : str
        The text.
    width : int
        Longest line [columns].
    first, rest : str
        What the first line begins with, and the others.

    Returns
    -------
    list of str
        The lines.
    """
    glued = _GLUE.sub(lambda found: found.group().replace(" ", _KEPT), plain(text))
    lines = textwrap.wrap(glued, width, initial_indent=first, subsequent_indent=rest)
    return [line.replace(_KEPT, " ") for line in lines]


def plain(text: str) -> str:
    """Write a text in ASCII: accents dropped, signs spelled out, what is left as ``?``.

    Examples
    --------
    >>> plain("Tunnel Süd – 20 °C, 0.15 µm, 40 m²")
    'Tunnel Sud - 20 deg C, 0.15 um, 40 m2'
    """
    spelled = {"°": "deg ", "–": "-", "—": "-", "−": "-", "’": "'", "‘": "'", "“": '"',
               "”": '"', "×": "x", "ß": "ss", "ø": "o", "Ø": "O", "æ": "ae", "±": "+-",
               "\u00b5": "u", "\u03bc": "u", "€": "EUR",
               "£": "GBP", "\t": " ", "\n": " "}  # fmt: skip
    text = "".join(spelled.get(letter, letter) for letter in text)
    split = unicodedata.normalize("NFKD", text)
    bare = "".join(x for x in split if not unicodedata.combining(x))
    return bare.encode("ascii", "replace").decode("ascii")
