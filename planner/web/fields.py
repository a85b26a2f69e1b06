"""The fields of the job form: key of the job file, label, and how it is filled in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Kind = Literal["text", "quantity", "number", "whole", "date", "days", "choice", "yes_no"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of the form.

    Attributes
    ----------
    key : str
        Dotted key of the job file.
    label : str
        What stands over it.
    kind : str
        How what is typed becomes a value of the job file.
    hint : str
        What stands under it: an example, or what is taken if it is left blank.
    choices : tuple of str
        Of a "choice".
    """

    key: str
    label: str
    kind: Kind
    hint: str = ""
    choices: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The key as an HTML id."""
        return self.key.replace(".", "-")


def _field(key: str, label: str, kind: Kind, hint: str = "", *choices: str) -> Field:
    return Field(key=key, label=label, kind=kind, hint=hint, choices=choices)


#: The seven questions that a new job is asked, with their examples.
QUESTIONS: Final = (
    _field("name", "What do you call the house?", "text", "as North tunnel"),
    _field("place.latitude", "Latitude, degrees", "number", "north is positive, as 44.5"),
    _field("place.longitude", "Longitude, degrees", "number", "west is negative, as -93.2"),
    _field("house.width", "Width, foot to foot", "quantity", "as 30 ft or 9.1 m"),
    _field("house.length", "Length along the ridge", "quantity", "as 96 ft or 29 m"),
    _field("film.thickness", "Film thickness", "quantity", "as 6 mil or 150 um; blank: 6 mil"),
    _field("crew.people", "People in the crew", "whole", "two to seven is usual"),
)
#: All else, by table, under the words of its heading.
MORE: Final = {
    "when it must be done": (
        _field("finish_by", "Last day", "date", "blank: no last day"),
        _field("starts_every", "How far apart starts are", "quantity", "as 15 min"),
    ),
    "fetching weather": (
        _field("contact", "Mail or web address", "text", "for services that ask for one"),
    ),
    "the place": (
        _field("place.elevation", "Height above the sea", "quantity", "as 870 ft or 265 m"),
        _field("place.time_zone", "Time zone", "text", "blank: found from the coordinates"),
        _field("place.ground", "Ground around", "choice", "", "open", "wooded"),
        _field(
            "place.gust_at_sheet",
            "Gust at the sheet, as a share of the gust at 10 m",
            "number",
            "your own readings, as 0.8; blank: worked out",
        ),
        _field("place.overhead_line", "A power line anywhere near", "yes_no"),
    ),
    "the house": (
        _field("house.profile", "Shape of the bows", "choice", "", "round", "gothic"),
        _field("house.leg", "Straight leg below the curve", "quantity", "as 4 ft or 1.2 m"),
        _field("house.ridge", "Height of the ridge", "quantity", "a gothic house needs it"),
        _field("house.radius", "Radius of a gothic bow", "quantity", "only if it is gothic"),
        _field("house.hip", "Height of the channel along the sides", "quantity", "as 4 ft"),
        _field("house.bow_spacing", "From bow to bow", "quantity", "as 4 ft or 1.2 m"),
        _field("house.frame", "Frame", "choice", "", "steel", "aluminium", "wood", "pvc"),
        _field("house.braced", "Braced against falling along the ridge", "yes_no"),
        _field(
            "house.channel_holds",
            "What the channel holds",
            "quantity",
            "as 60 lbf/ft or 900 N/m",
        ),
    ),
    "the film": (
        _field("film.layers", "Layers", "choice", "2 = blown apart by a fan", "1", "2"),
        _field("film.kind", "Kind", "choice", "", "clear", "diffusing", "infrared"),
        _field(
            "film.sides",
            "Roll-up sides",
            "choice",
            "one-piece: the roof sheet hangs down as the sides",
            "separate",
            "one-piece",
        ),
        _field(
            "film.stress_free",
            "Film temperature at which it is neither slack nor tight",
            "quantity",
            "as 95 F or 35 C",
        ),
        _field(
            "film.inflation", "Air between two layers", "quantity", "as 0.25 in w.c. or 62 Pa"
        ),
    ),
    "the crew": (
        _field(
            "crew.hold", "What one person holds in a gust", "quantity", "as 34 lbf or 150 N"
        ),
        _field("crew.pace", "Pace", "number", "1 has done it often, 1.6 never"),
        _field("crew.start", "Starts at", "text", "first light, or a time: 6:30 am"),
        _field("crew.stop", "Stops at", "text", "last light, or a time: 8:00 pm"),
        _field("crew.days_off", "Days off", "days", "as 2026-05-03, Sunday"),
        _field("crew.used_to_heat", "Used to heat", "yes_no"),
    ),
    "what going wrong costs": (
        _field("stakes.sheet_lost", "A sheet that the wind takes", "number"),
        _field("stakes.deadline_missed", "Not done by the last day", "number"),
        _field("stakes.day_waited", "A day put off the evening before", "number"),
        _field("stakes.sent_home", "A day put off with the crew in the yard", "number"),
        _field(
            "stakes.lost_when",
            "The sheet counts as lost when",
            "choice",
            "",
            "the film tears",
            "a limit is passed",
        ),
        _field("stakes.money", "Sign of the money", "text", "as $"),
    ),
}
FIELDS: Final = {field.key: field for group in (QUESTIONS, *MORE.values()) for field in group}
#: Keys without which there is no job.
NEEDED: Final = frozenset(field.key for field in QUESTIONS) - {"film.thickness"}
#: Keys for which a new job file has no line to fill in; they are added to it.
LATER: Final = frozenset(
    {"place.gust_at_sheet", "house.radius", "house.channel_holds", "film.inflation"}
)
