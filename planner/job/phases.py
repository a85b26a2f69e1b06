"""The phases of covering a house, made from plain sizes.

Minutes, hands, loose shares, force coefficients and caps are rows of the reference table
``labour``; the sizes of sheets and what a fastened sheet survives come from a higher
room, which knows the shape of the house.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from planner.job.records import Phase
from planner.reference.tables import row, table, value

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.job.records import Job, Light, Wet

#: Built-in steps that are left out unless the job file says ``skip = false``.
LEFT_OUT: Final = ("strip old film",)

#: The phase in which film begins to be locked, and that in which its tension is set.
FIRST_LOCKS: Final = "first locks"
SETS_PULL: Final = "lock edge 2"
#: Caps that several phases share, and in words why each cap is there.
_SHARED_CAPS: Final = {
    "ladder": ("labour", "ladder_gust_cap"),
    "rule": ("work_rules", "roof_sheet_gust_cap"),
}
_KIND_IN_WORDS: Final = {
    "published": "published",
    "measured": "measured",
    "practice": "common practice",
    "assumed": "working estimate",
}
_WHY: Final = {
    "ladder": "ladder work",
    "rule": "roof work rule for large sheets",
    "lines": "a thrown line drifts",
    "lay_out": "a bunched sheet gets away",
    "pull_over": "practice: calm only",
    "tack": "practice: calm only",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """What the steps need to know about the sheets, as plain numbers.

    Attributes
    ----------
    roof_area : float
        Cut area of one layer of the roof sheet [m2].
    end_wall_area : float
        Cut area of one end-wall sheet [m2].
    side_area : float
        One roll-up side: its own sheet, or the tail of a one-piece roof sheet below the
        channel; 0 if there is none [m2].
    arc : float
        Over the bow from ground to ground [m].
    lock_arc : float
        Over the bow from channel to channel [m].
    roof_channel : float
        Channel that the roof sheet is locked into [m].
    throw_lines, bays : int
        Lines to pull the roof sheet with; spaces between bows [-].
    pull_weight : float
        Pull spent on dragging one layer of the roof sheet over the bows [N].
    leave_gust_tacked, leave_gust_open_end, leave_gust_closed : float
        Gust that the roof sheet survives alone: edges locked and ends tacked, one end
        still open, all closed [m/s].
    """

    roof_area: float
    end_wall_area: float
    side_area: float
    arc: float
    lock_arc: float
    roof_channel: float
    throw_lines: int
    bays: int
    pull_weight: float
    leave_gust_tacked: float
    leave_gust_open_end: float
    leave_gust_closed: float

    def area(self, sheet: str) -> float:
        """Give the cut area of one sheet; that of the roof for work on no sheet [m2]."""
        return {"end wall": self.end_wall_area, "side": self.side_area}.get(
            sheet, self.roof_area
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseMaker:
    """Makes the phases of one job: people, pace and height are the same throughout."""

    job: Job
    sizes: Sizes

    def phase(
        self,
        name: str,
        rows: str,
        minutes: float,
        *,
        area: float = 0.0,
        hands: float | None = None,
        cap: str = "",
        taken: float = 0.0,
        leave: float | None = None,
        wet: Wet = "damp",
        light: Light = "work",
    ) -> Phase:
        """Make one phase from its rows of the labour table and its person-minutes.

        Rows that the phase does not have mean: the whole crew, all of ``area`` loose,
        nothing for the wind to push.
        """
        known, crew = table("labour"), self.job.crew
        if hands is None and f"{rows}_hands" in known:
            hands = _labour(f"{rows}_hands")
        people = crew.people if hands is None else min(crew.people, round(hands))
        share = _labour(f"{rows}_loose") if f"{rows}_loose" in known else 1.0
        ceiling = row(*_SHARED_CAPS.get(cap, ("labour", f"{rows}_gust_cap")))
        return Phase(
            name=name,
            minutes=minutes * crew.pace / people,
            hands=people,
            loose_area=share * area,
            drag=_labour(f"{rows}_drag") if f"{rows}_drag" in known else 0.0,
            taken=taken,
            height=usual_height(self.job),
            gust_ceiling=ceiling.value,
            ceiling_kind=ceiling.kind,
            ceiling_source=_WHY.get(cap or rows, _KIND_IN_WORDS[ceiling.kind]),
            leave_gust=leave,
            wet=wet,
            light=light,
        )


def usual_height(job: Job) -> float:
    """Give the height at which the wind on a sheet is taken, unless the job file says.

    Parameters
    ----------
    job : Job
        The job.

    Returns
    -------
    float
        A fixed share of the ridge [m].
    """
    return value("labour", "wind_height_share") * job.house.ridge


def effort(base: str, amounts: Mapping[str, float]) -> float:
    """Add up a practised crew's person-minutes: a base row, and a row times each amount.

    Parameters
    ----------
    base : str
        Row of the labour table for what comes whatever the size.
    amounts : mapping of str to float
        Rows of the labour table per unit, and how many units [as in the row].

    Returns
    -------
    float
        Work of the phase [person-min].
    """
    return _labour(base) + sum(_labour(each) * size for each, size in amounts.items())


def _labour(key: str) -> float:
    """Value of one row of the labour table."""
    return value("labour", key)


def strip_phases(make: PhaseMaker) -> tuple[Phase, ...]:
    """Take the old film off; it is a sail itself."""
    area = make.sizes.roof_area
    minutes = effort("strip_base", {"strip_per_m2": area})
    leave = _labour("bare_frame_leave")
    return (
        make.phase("strip", "strip", minutes, area=area, cap="ladder", leave=leave, wet="dry"),
    )


def end_wall_phases(make: PhaseMaker) -> tuple[Phase, ...]:
    """Hang an end wall and clip its top, then lock it round the hoop and the foot."""
    area = make.sizes.end_wall_area
    minutes = effort(
        "end_wall_base",
        {
            "end_wall_per_m2": area,
            "end_wall_per_m_arc": make.sizes.arc,
            "end_wall_per_m_width": make.job.house.width,
        },
    )
    hanging = _labour("end_wall_hang_share") * minutes
    hands = max(
        _labour("end_wall_hands_fewest"), round(area / _labour("end_wall_area_per_hand"))
    )
    hang = make.phase(
        "hang and clip",
        "end_wall_hang",
        hanging,
        area=area,
        hands=hands,
        cap="ladder",
        wet="dry",
    )
    lock = make.phase(
        "lock arc and base",
        "end_wall_lock",
        minutes - hanging,
        area=area,
        hands=hands,
        cap="ladder",
        leave=_walls_leave(make),
        wet="dry",
    )
    return hang, lock


def _walls_leave(make: PhaseMaker) -> float:
    """Gust that a frame with end walls and no roof survives alone [m/s]."""
    braced = "braced" if make.job.house.braced else "unbraced"
    return _labour(f"end_wall_lock_{braced}_leave")


def roof_phases(make: PhaseMaker) -> tuple[Phase, ...]:
    """Cover the roof, from the first line over the bows to the doors shut."""
    two = make.job.film.layers == 2
    phases = [*_lines_and_lay_out(make), *_pull_and_tack(make, "pull over", FIRST_LOCKS)]
    if two:
        phases += _pull_and_tack(make, "pull second layer", "second layer locks")
    phases += _lock_edges(make)
    if _has_tails(make):
        phases.append(_clip_skirts(make))
    phases.append(_lock_ends(make))
    if two:
        phases.append(_inflate(make))
    phases.append(_doors(make))
    return tuple(phases)


def _has_tails(make: PhaseMaker) -> bool:
    """Whether the roof sheet hangs down below the channel as roll-up sides."""
    return make.job.film.sides == "one-piece" and make.sizes.side_area > 0.0


def _lines_and_lay_out(make: PhaseMaker) -> tuple[Phase, Phase]:
    """Throw the lines and lay the sheet out bunched, once for each layer."""
    layers = make.job.film.layers
    area = make.sizes.roof_area * layers
    thrown = make.phase(
        "lines over",
        "lines",
        effort("lines_base", {"lines_per_line": make.sizes.throw_lines * layers}),
        leave=_walls_leave(make),
        wet="dry" if make.job.place.overhead_line else "damp",
    )
    laid = make.phase(
        "lay out",
        "lay_out",
        effort("lay_out_base", {"lay_out_per_m2": area}),
        area=area,
        leave=_labour("lay_out_leave"),
        light="torch",
    )
    return thrown, laid


def _pull_and_tack(make: PhaseMaker, pull: str, tack: str) -> tuple[Phase, Phase]:
    """Pull one layer over the bows and give it its first locks: the calm part."""
    area = make.sizes.roof_area
    over = make.phase(
        pull,
        "pull_over",
        effort("pull_over_base", {"pull_over_per_m2": area}),
        area=area,
        taken=make.sizes.pull_weight,
    )
    locked = make.phase(
        tack, "tack", effort("tack_base", {"tack_per_m": make.job.house.length}), area=area
    )
    return over, locked


def _lock_edges(make: PhaseMaker) -> tuple[Phase, Phase]:
    """Lock both long edges; while tails hang loose, the second is not yet safe to leave."""
    area, length = make.sizes.roof_area, make.job.house.length
    minutes = (
        effort("edge_1_base", {"edge_1_per_m": length}),
        effort("edge_2_base", {"edge_2_per_m": length}),
    )
    leave = None if _has_tails(make) else make.sizes.leave_gust_tacked
    return (
        make.phase("lock edge 1", "edge_1", minutes[0], area=area, cap="rule"),
        make.phase(SETS_PULL, "edge_2", minutes[1], area=area, cap="rule", leave=leave),
    )


def _clip_skirts(make: PhaseMaker) -> Phase:
    """Clip the tails of a one-piece sheet down on both sides."""
    return make.phase(
        "clip skirts",
        "clip_skirts",
        2.0 * effort("clip_skirts_base", {"clip_skirts_per_m": make.job.house.length}),
        area=2.0 * make.sizes.side_area,
        leave=make.sizes.leave_gust_tacked,
    )


def _lock_ends(make: PhaseMaker) -> Phase:
    """Lock both ends, from ladders; a strip at each end is still loose."""
    arc = make.sizes.lock_arc
    return make.phase(
        "lock ends",
        "lock_ends",
        effort("lock_ends_base", {"lock_ends_per_m_arc": arc}),
        area=2.0 * _labour("lock_ends_loose_strip") * arc,
        cap="ladder",
        leave=make.sizes.leave_gust_open_end,
        wet="dry",
    )


def _inflate(make: PhaseMaker) -> Phase:
    """Fit and start the fan; it fills the cover on its own."""
    leave = make.sizes.leave_gust_open_end
    return make.phase(
        "inflate", "inflate", effort("inflate_base", {}), leave=leave, wet="off", light="torch"
    )


def _doors(make: PhaseMaker) -> Phase:
    """Shut the doors, so that no end is open to the wind."""
    return make.phase(
        "shut doors",
        "doors",
        effort("doors_base", {}),
        area=make.sizes.roof_area,
        leave=make.sizes.leave_gust_closed,
        wet="off",
        light="torch",
    )


def trim_phases(make: PhaseMaker) -> tuple[Phase, ...]:
    """Cut off what hangs over, once the sheet has been through a cold night."""
    minutes = _labour("trim_per_m_channel") * make.sizes.roof_channel
    area, leave = make.sizes.roof_area, make.sizes.leave_gust_closed
    return (make.phase("trim edges", "trim", minutes, area=area, leave=leave, wet="off"),)


def side_phases(make: PhaseMaker) -> tuple[Phase, ...]:
    """Hang the roll-up sides; rolled up and tied, they leave the house open at its sides."""
    minutes, area = (
        effort("roll_up_base", {"roll_up_per_m": make.job.house.length}),
        make.sizes.side_area,
    )
    leave = make.sizes.leave_gust_open_end
    return (
        make.phase("first side", "roll_up", minutes, area=area, wet="dry"),
        make.phase("second side", "roll_up", minutes, area=area, leave=leave, wet="dry"),
    )


def cord_phases(make: PhaseMaker) -> tuple[Phase, ...]:
    """Tie cords over the roll-up sides and straps over the roof, one side after the other."""
    leaves = {
        "first side": make.sizes.leave_gust_open_end,
        "second side": make.sizes.leave_gust_closed,
    }
    minutes, area = (
        effort("cords_base", {"cords_per_bay": make.sizes.bays}),
        make.sizes.roof_area,
    )
    return tuple(
        make.phase(name, "cords", minutes, area=area, leave=leave, wet="off", light="torch")
        for name, leave in leaves.items()
    )
