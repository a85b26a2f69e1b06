"""The job as the planner knows it: house, place, film, crew, limits, steps.

Everything is in the planner's own units (m, m/s, degC, mm, N, min). Records
are frozen; a changed job is a new one (``dataclasses.replace``).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Final, Literal

Side = Literal["at most", "at least"]
LimitKind = Literal["published", "measured", "practice", "assumed", "worked out", "yours"]
Over = Literal["hour", "phase"]
Wet = Literal["dry", "damp", "off"]
Light = Literal["work", "torch"]

#: What can be limited: quantity -> (unit, scale that makes the margin a pure number).
#: The scale of a wind limit is its own bound, written here as 0.
QUANTITIES: Final[dict[str, tuple[str, float]]] = {
    "gust": ("m/s", 0.0),
    "mean_wind": ("m/s", 0.0),
    "rain": ("mm", 1.0),
    "temp_air": ("degC", 10.0),
    "temp_film": ("degC", 10.0),
    "film_swing": ("K", 10.0),
    "wetness": ("mm", 0.5),
    "frost": ("-", 1.0),
    "light": ("lx", 60.0),
    "sun": ("deg", 10.0),
    "heat": ("degC", 10.0),
    "chill": ("degC", 10.0),
    "thunder": ("-", 1.0),
    "thunder_ahead": ("-", 1.0),
    "crew_hours": ("min", 60.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A bound on one quantity for one phase, and where it comes from.

    Attributes
    ----------
    quantity : str
        A key of ``QUANTITIES``.
    side : {"at most", "at least"}
        Which side is allowed.
    bound : float
        The bound [unit of the quantity].
    scale : float
        Room that counts as a margin of one [unit of the quantity].
    over : {"hour", "phase"}
        Compared in each hour, or with the change over the phase.
    kind : str
        How far it can be trusted; "yours" if typed in the job file.
    source : str
        In words: "5 people hold it", "typed in the job file", a source's title.
    replaced : float or None
        The built-in bound that a typed one replaced [unit of the quantity].
    replaced_source : str
        Where that came from, in words.
    governs : bool
        False where a stricter limit on the same quantity is the one that counts.
    """

    quantity: str
    side: Side
    bound: float
    scale: float
    over: Over = "hour"
    kind: LimitKind
    source: str
    replaced: float | None = None
    replaced_source: str = ""
    governs: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """A stretch of a step with its own minutes, hands, loose share and coefficient.

    Attributes
    ----------
    name : str
        "pull over", "lock ends", ...
    minutes : float
        At the crew's pace, dry film [min].
    hands : int
        People on the sheet.
    loose_area : float
        Film not yet fastened, or the area the wind takes [m2].
    drag : float
        Force coefficient of that state [-].
    taken : float
        Force that the hands spend on the weight of the film [N].
    height : float
        Where the wind is taken [m].
    gust_ceiling : float
        Never passed, whatever the hands hold [m/s].
    ceiling_kind, ceiling_source : str
        Where the ceiling comes from.
    leave_gust : float or None
        Gust that the state after the phase survives unattended [m/s]; None = never leave it.
    wet : {"dry", "damp", "off"}
        "dry": rungs or film must be dry; "damp": wet film only takes longer.
    light : {"work", "torch"}
        Whether work light is needed.
    """

    name: str
    minutes: float
    hands: int
    loose_area: float
    drag: float
    taken: float = 0.0
    height: float
    gust_ceiling: float
    ceiling_kind: LimitKind = "practice"
    ceiling_source: str = ""
    leave_gust: float | None = None
    wet: Wet = "damp"
    light: Light = "work"

    @property
    def leave_safe(self) -> bool:
        """Whether the state after the phase may be left with nobody there."""
        return self.leave_gust is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A named piece of the job: its phases, what must come before, whether it is done."""

    name: str
    sheet: Literal["end wall", "roof", "side", "none"]
    phases: tuple[Phase, ...]
    after: tuple[str, ...] = ()
    nights_after: int = 0
    done: bool = False

    @property
    def minutes(self) -> float:
        """How long the whole step takes on dry film [min]."""
        return sum(phase.minutes for phase in self.phases)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the house stands."""

    latitude: float
    longitude: float
    elevation: float | None = None
    time_zone: str
    ground: Literal["open", "wooded"] = "open"
    gust_at_sheet: float | None = None
    overhead_line: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """The frame [m]."""

    profile: Literal["round", "gothic"]
    width: float
    length: float
    leg: float
    ridge: float
    radius: float | None = None
    hip: float
    bow_spacing: float
    frame: Literal["steel", "aluminium", "wood", "pvc"] = "steel"
    braced: bool = True
    channel_holds: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """The film: thickness [m], stress-free film temperature [degC], inflation [Pa]."""

    thickness: float
    layers: Literal[1, 2] = 1
    kind: Literal["clear", "diffusing", "infrared"] = "clear"
    sides: Literal["separate", "one-piece"] = "separate"
    stress_free: float
    inflation: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew:
    """The people: how many, what each holds for a gust [N], pace, and when they come.

    ``start`` and ``stop`` are "first light", "last light" or minutes after local midnight.
    """

    people: int
    hold: float
    pace: float
    start: Literal["first light"] | int = "first light"
    stop: Literal["last light"] | int = "last light"
    days_off: tuple[dt.date | str, ...] = ()
    used_to_heat: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Stakes:
    """What going wrong and waiting cost, in any one currency; only the ratios matter.

    ``lost_when`` says what counts as a lost sheet: by default limits have room, and how
    often a gust beyond one takes the sheet follows from how far beyond; or a limit passed
    is a sheet lost, as when decisions are scored.
    """

    sheet_lost: float
    deadline_missed: float
    day_waited: float
    sent_home: float
    lost_when: Literal["the film tears", "a limit is passed"] = "the film tears"
    money: str = "$"


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedLimit:
    """A limit as typed in the job file: ``value`` None means "off".

    ``quantity`` is a key of the ``[limits]`` table; values are in the planner's units. Of a
    pair, a side that is None was switched off. ``line`` is where it stands in the file.
    """

    quantity: str
    low: float | None = None
    high: float | None = None
    word: str = ""
    step: str = ""
    phase: str = ""
    line: int | None = field(default=None, compare=False)

    @property
    def off(self) -> bool:
        """Whether the limit was switched off."""
        return self.word == "off"


@dataclass(frozen=True, slots=True, kw_only=True)
class PhasePatch:
    """What the job file says about one phase; None = not said.

    ``minutes`` [min], ``hands`` people, ``loose`` share of the sheet [-], ``drag`` [-],
    ``height`` [m], ``leave_gust`` [m/s] or "no" for a state never to be left alone.
    """

    name: str
    minutes: float | None = None
    hands: int | None = None
    loose: float | None = None
    drag: float | None = None
    height: float | None = None
    leave_gust: float | Literal["no"] | None = None
    line: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPatch:
    """What the job file says about one step, built in or new; None = not said."""

    name: str
    sheet: Literal["end wall", "roof", "side", "none"] | None = None
    after: tuple[str, ...] | None = None
    nights_after: int | None = None
    skip: bool | None = None
    done: bool | None = None
    phases: tuple[PhasePatch, ...] = ()
    line: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One house to be covered: everything that the job file says, defaults filled in.

    ``assumed`` lists in words what the file did not say and the planner filled in.
    """

    name: str
    place: Place
    house: House
    film: Film
    crew: Crew
    stakes: Stakes
    limits: tuple[TypedLimit, ...] = ()
    steps: tuple[Step, ...] = ()
    step_patches: tuple[StepPatch, ...] = ()
    finish_by: dt.date | None = None
    starts_every: int = 15
    contact: str = ""
    thunder_wait: float = 30.0
    assumed: tuple[str, ...] = field(default=())
    file: str = ""
    units: Literal["us", "si"] = "si"
