"""What may stand in a job file: every key, what it may hold, and between which bounds.

Quantities come out in the planner's own units. A key left out stays ``None`` here;
defaults are filled in where the job is put together.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, PlainValidator

from planner.job.complaints import Path
from planner.job.values import (
    calendar_date,
    choice,
    clock,
    day_off,
    film_thickness,
    list_of,
    number,
    pair,
    quantity,
    quarters,
    text_line,
    whole,
    yes_no,
)


def _length(low: float, high: float) -> Any:
    return PlainValidator(quantity("length", low, high))


_Yes = Annotated[bool, PlainValidator(yes_no)]
_Text = Annotated[str, PlainValidator(text_line)]
_Names = Annotated[tuple[str, ...], PlainValidator(list_of(text_line))]
_Money = Annotated[float, PlainValidator(number(0.0, 1e9))]
_SWAPPED: Final = "Are latitude and longitude the wrong way round?"


class _Table(BaseModel):
    """A table of the job file: an unknown key is refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class PlaceTable(_Table):
    """``[place]``."""

    latitude: Annotated[float, PlainValidator(number(-90.0, 90.0, fix=_SWAPPED))]
    longitude: Annotated[float, PlainValidator(number(-180.0, 180.0))]
    elevation: Annotated[float | None, _length(-450.0, 6000.0)] = None
    time_zone: _Text | None = None
    ground: Annotated[
        Literal["open", "wooded"] | None, PlainValidator(choice("open", "wooded"))
    ] = None
    gust_at_sheet: Annotated[float | None, PlainValidator(number(0.1, 1.5))] = None
    overhead_line: _Yes = False


class HouseTable(_Table):
    """``[house]``."""

    profile: Annotated[
        Literal["round", "gothic"], PlainValidator(choice("round", "gothic"))
    ] = "round"
    width: Annotated[float, _length(2.0, 20.0)]
    length: Annotated[float, _length(3.0, 150.0)]
    leg: Annotated[float | None, _length(0.0, 5.0)] = None
    ridge: Annotated[float | None, _length(0.8, 12.0)] = None
    radius: Annotated[float | None, _length(0.5, 50.0)] = None
    hip: Annotated[float | None, _length(0.0, 5.0)] = None
    bow_spacing: Annotated[float | None, _length(0.3, 5.0)] = None
    frame: Annotated[
        Literal["steel", "aluminium", "wood", "pvc"] | None,
        PlainValidator(choice("steel", "aluminium", "wood", "pvc")),
    ] = None
    braced: _Yes | None = None
    channel_holds: Annotated[
        float | None, PlainValidator(quantity("force per length", 20.0, 20000.0))
    ] = None


class FilmTable(_Table):
    """``[film]``."""

    thickness: Annotated[float | None, PlainValidator(film_thickness)] = None
    layers: Annotated[Literal[1, 2], PlainValidator(choice(1, 2))] = 1
    kind: Annotated[
        Literal["clear", "diffusing", "infrared"],
        PlainValidator(choice("clear", "diffusing", "infrared")),
    ] = "clear"
    sides: Annotated[
        Literal["separate", "one-piece"], PlainValidator(choice("separate", "one-piece"))
    ] = "separate"
    stress_free: Annotated[
        float | None, PlainValidator(quantity("temperature", -20.0, 60.0))
    ] = None
    inflation: Annotated[float | None, PlainValidator(quantity("pressure", 10.0, 250.0))] = None


class CrewTable(_Table):
    """``[crew]``."""

    people: Annotated[int, PlainValidator(whole(1, 30))]
    hold: Annotated[float | None, PlainValidator(quantity("force", 20.0, 600.0))] = None
    pace: Annotated[float | None, PlainValidator(number(0.5, 3.0))] = None
    start: Annotated[Any, PlainValidator(clock("first light"))] = "first light"
    stop: Annotated[Any, PlainValidator(clock("last light"))] = "last light"
    days_off: Annotated[tuple[dt.date | str, ...], PlainValidator(list_of(day_off))] = ()
    used_to_heat: _Yes = False


class StakesTable(_Table):
    """``[stakes]``."""

    sheet_lost: Annotated[float, PlainValidator(number(0.01, 1e9))] | None = None  # above 0
    deadline_missed: _Money | None = None
    day_waited: _Money | None = None
    sent_home: _Money | None = None
    lost_when: Annotated[
        Literal["the film tears", "a limit is passed"],
        PlainValidator(choice("the film tears", "a limit is passed")),
    ] = "the film tears"
    money: _Text = "$"


def _bound(dimension: str, low: float, high: float, *words: str) -> Any:
    return PlainValidator(quantity(dimension, low, high, words=(*words, "off")))


_WORK_OUT: Final = "work it out"


class LimitsTable(_Table):
    """``[limits]``, and the same keys below a step or a phase."""

    rain: Annotated[Any, _bound("rain", 0.0, 50.0)] = None
    air: Annotated[Any, PlainValidator(pair("temperature", -40.0, 60.0))] = None
    film: Annotated[Any, PlainValidator(pair("temperature", -40.0, 90.0))] = None
    film_swing: Annotated[Any, _bound("temperature difference", 0.5, 80.0)] = None
    wet: Annotated[Any, PlainValidator(choice("dry", "damp", "off"))] = None
    light: Annotated[Any, _bound("illuminance", 0.1, 5000.0)] = None
    sun: Annotated[Any, _bound("angle", -18.0, 60.0)] = None
    heat: Annotated[Any, _bound("temperature", 10.0, 45.0, _WORK_OUT)] = None
    chill: Annotated[Any, _bound("temperature", -50.0, 20.0)] = None
    thunder_wait: Annotated[Any, _bound("duration", 0.0, 240.0)] = None
    gust: Annotated[Any, _bound("speed", 0.3, 30.0, _WORK_OUT)] = None
    mean: Annotated[Any, _bound("speed", 0.3, 30.0, _WORK_OUT)] = None
    gust_ceiling: Annotated[Any, _bound("speed", 0.3, 30.0)] = None


class PhaseTable(_Table):
    """``[steps."step".phases."phase"]``."""

    time: Annotated[float | None, PlainValidator(quantity("duration", 1.0, 1440.0))] = None
    hands: Annotated[int | None, PlainValidator(whole(1, 30))] = None
    loose: Annotated[float | None, PlainValidator(number(0.0, 1.0))] = None
    drag: Annotated[float | None, PlainValidator(number(0.0, 3.0))] = None
    height: Annotated[float | None, _length(0.3, 20.0)] = None
    leave_gust: Annotated[Any, PlainValidator(quantity("speed", 0.3, 60.0, words=("no",)))] = (
        None
    )


class StepTable(_Table):
    """``[steps."step"]``."""

    sheet: Annotated[
        Literal["end wall", "roof", "side", "none"] | None,
        PlainValidator(choice("end wall", "roof", "side", "none")),
    ] = None
    after: _Names | None = None
    nights_after: Annotated[int | None, PlainValidator(whole(0, 14))] = None
    skip: _Yes | None = None
    done: _Yes | None = None
    phases: dict[_Text, PhaseTable] = {}


class JobTable(_Table):
    """A whole job file; ``[limits]`` is read apart because steps and phases nest in it."""

    name: _Text
    finish_by: Annotated[dt.date | None, PlainValidator(calendar_date)] = None
    starts_every: Annotated[int, PlainValidator(quarters)] = 15
    contact: _Text | None = None
    place: PlaceTable
    house: HouseTable
    film: FilmTable = FilmTable()
    crew: CrewTable
    stakes: StakesTable = StakesTable()
    limits: dict[str, Any] = {}
    steps: dict[_Text, StepTable] = {}


_TABLES: Final[dict[Path, type[_Table]]] = {
    (): JobTable,
    ("place",): PlaceTable,
    ("house",): HouseTable,
    ("film",): FilmTable,
    ("crew",): CrewTable,
    ("stakes",): StakesTable,
    ("limits",): LimitsTable,
    ("limits", "*"): LimitsTable,
    ("limits", "*", "*"): LimitsTable,
    ("steps", "*"): StepTable,
    ("steps", "*", "phases", "*"): PhaseTable,
}

#: The keys of every table; "*" stands for a name that the user chooses.
KEYS: Final = {path: tuple(table.model_fields) for path, table in _TABLES.items()}
