"""The limits of each phase, with kind and source.

How to add one is told in the contributors' guide.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from planner.film.sail import gust_people_can_hold
from planner.job.records import QUANTITIES, Limit
from planner.reference.tables import row, sources, value
from planner.site.body import heat_limit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.job.records import Job, LimitKind, Phase, Side, Step, TypedLimit

YOURS: Final = "typed in the job file"
WORK_IT_OUT: Final = "work it out"
_LEAST_SCALE: Final = 0.1  # m/s, so that a limit of nought has a margin too


def limits_for(job: Job, step: Step) -> dict[str, tuple[Limit, ...]]:
    """Give every limit of a step, phase by phase.

    Parameters
    ----------
    job : Job
        With its typed limits.
    step : Step
        One of the job's steps.

    Returns
    -------
    dict of str to tuple of Limit
        By phase name. Of several limits on the same side of a quantity the strictest
        governs; the others are kept with ``governs`` False, so that they can be shown.

    Notes
    -----
    A gust limit is paired with what people hold for a moment, a mean wind limit with
    what they keep up for minutes. A typed limit replaces the worked-out one; a
    ceiling caps both.
    """
    return {
        phase.name: _marked(tuple(_phase_limits(job, step, phase))) for phase in step.phases
    }


def _marked(limits: tuple[Limit, ...]) -> tuple[Limit, ...]:
    """Mark the strictest limit of each quantity and side as the one that governs."""

    def strictest(limit: Limit) -> bool:
        rivals = [
            x.bound
            for x in limits
            if (x.quantity, x.side) == (limit.quantity, limit.side) and x is not limit
        ]
        if limit.side == "at most":
            return all(limit.bound <= bound for bound in rivals)
        return all(limit.bound >= bound for bound in rivals)

    marked = [replace(limit, governs=strictest(limit)) for limit in limits]
    seen = set()
    for at, limit in enumerate(marked):
        key = (limit.quantity, limit.side)
        if limit.governs and key in seen:
            marked[at] = replace(limit, governs=False)
        if limit.governs:
            seen.add(key)
    return tuple(marked)


def typed(job: Job, quantity: str, *, step: str, phase: str) -> TypedLimit | None:
    """Give the typed limit that counts for a phase: the nearest wins.

    Parameters
    ----------
    job : Job
        With its typed limits.
    quantity : str
        A key of the ``[limits]`` table.
    step, phase : str
        Where it is asked for.

    Returns
    -------
    TypedLimit or None
        The one typed for the phase, else for the step, else for every phase; None also
        where that one says "work it out".
    """
    for names in ((step, phase), (step, ""), ("", "")):
        for limit in job.limits:
            if limit.quantity == quantity and (limit.step, limit.phase) == names:
                return None if limit.word == WORK_IT_OUT else limit
    return None


def _limit(
    quantity: str,
    side: Side,
    bound: float,
    *,
    kind: LimitKind,
    source: str,
    replaced: float | None = None,
    replaced_source: str = "",
) -> Limit:
    return Limit(
        quantity=quantity,
        side=side,
        bound=bound,
        scale=QUANTITIES[quantity][1] or max(bound, _LEAST_SCALE),
        over="phase" if quantity == "film_swing" else "hour",
        kind=kind,
        source=source,
        replaced=replaced,
        replaced_source=replaced_source,
    )


def _rule(quantity: str, side: Side, key: str) -> Limit:
    """Make a limit from a row of the work rules."""
    rule = row("work_rules", key)
    return _limit(
        quantity, side, rule.value, kind=rule.kind, source=sources()[rule.source]["title"]
    )


def _phase_limits(job: Job, step: Step, phase: Phase) -> Iterator[Limit]:
    def ask(quantity: str) -> TypedLimit | None:
        return typed(job, quantity, step=step.name, phase=phase.name)

    yield from _wind(job, phase, ask("gust"), ask("mean"), ask("gust_ceiling"))
    draped = phase.drag > 0.0 and not phase.leave_safe
    rain = "rain_on_loose_film" if draped else "rain_highest"
    yield from _rain(_rule("rain", "at most", rain), ask("rain"))
    yield from _either(
        ask("air"),
        [
            _rule("temp_air", "at least", "air_lowest"),
            _rule("temp_air", "at most", "air_highest"),
        ],
    )
    if phase.drag > 0.0:
        yield from _either(
            ask("film"),
            [
                _rule("temp_film", "at least", "film_lowest"),
                _rule("temp_film", "at most", "film_highest"),
            ],
        )
        yield from _either(ask("film_swing"), [_rule("film_swing", "at most", "film_swing")])
    yield from _wet(phase, ask("wet"))
    yield from _light(phase, ask("light"))
    yield from _either(
        ask("sun"), [_limit("sun", "at least", 0.0, kind="yours", source=YOURS)], off=True
    )
    yield from _either(ask("heat"), [_heat(job)])
    yield from _either(ask("chill"), [_rule("chill", "at least", "chill_lowest")])
    yield from _thunder(phase, ask("thunder_wait"))
    yield _limit(
        "crew_hours", "at least", 0.0, kind="yours", source="crew hours of the job file"
    )


def _rain(built_in: Limit, asked: TypedLimit | None) -> Iterator[Limit]:
    """Give the rain limit; one for all phases does not loosen that of loose film."""
    looser = asked is not None and (asked.high or 0.0) > built_in.bound
    if looser and built_in.bound <= 0.0 and asked is not None and not asked.phase:
        asked = None
    yield from _either(asked, [built_in])


def _either(
    typed_limit: TypedLimit | None, built_in: list[Limit], *, off: bool = False
) -> Iterator[Limit]:
    """Give built-in limits, or what was typed in their place."""
    if typed_limit is None:
        yield from [] if off else built_in
        return
    if typed_limit.off:
        return
    for limit in built_in:
        bound = typed_limit.high if limit.side == "at most" else typed_limit.low
        if bound is not None:
            yield _limit(
                limit.quantity,
                limit.side,
                bound,
                kind="yours",
                source=YOURS,
                replaced=None if off or limit.bound == float("inf") else limit.bound,
                replaced_source="" if off else limit.source,
            )


def _wind(
    job: Job,
    phase: Phase,
    gust: TypedLimit | None,
    mean: TypedLimit | None,
    ceiling: TypedLimit | None,
) -> Iterator[Limit]:
    hold = job.crew.hold
    kept_up = hold * value("labour", "hold_sustained") / value("labour", "hold_gust")
    for quantity, each, asked in (("gust", hold, gust), ("mean_wind", kept_up, mean)):
        held = _held(phase, each)
        worked = _limit(
            quantity,
            "at most",
            held,
            kind="worked out",
            source=_who(phase, held),
        )
        if asked is not None:
            yield from _either(asked, [worked])
        elif held < value("planning", "wind_free"):
            yield worked
    cap = _limit(
        "gust",
        "at most",
        phase.gust_ceiling,
        kind=phase.ceiling_kind,
        source=phase.ceiling_source,
    )
    typed_higher = ceiling is not None and (ceiling.high or 0.0) > cap.bound
    if typed_higher and ceiling is not None and not ceiling.phase:
        ceiling = None  # a ceiling for all phases lowers; only one's own may raise it
    yield from _either(ceiling, [cap])
    if phase.drag > 0.0 and not (mean is not None and mean.off):
        yield _rule("mean_wind", "at most", "roof_sheet_mean_cap")


def _who(phase: Phase, held: float) -> str:
    """Say in words who holds the sheet, or that they are too few to move it."""
    one = phase.hands == 1
    if held <= 0.0:
        return f"{phase.hands} {'person cannot' if one else 'people cannot'} drag the film"
    return f"{phase.hands} {'person holds' if one else 'people hold'} it"


def _held(phase: Phase, each: float) -> float:
    if phase.loose_area * phase.drag <= 0.0:
        return float("inf")
    return float(
        gust_people_can_hold(
            phase.loose_area, phase.hands, hold=each, drag=phase.drag, taken=phase.taken
        )
    )


def _wet(phase: Phase, asked: TypedLimit | None) -> Iterator[Limit]:
    if phase.wet == "off":
        return
    typed_here = asked is not None
    if phase.wet == "dry":
        dry = row("terrain", "film_dry_below")
        yield _limit(
            "wetness",
            "at most",
            dry.value,
            kind="yours" if typed_here else dry.kind,
            source=YOURS if typed_here else "ladder rungs, tape and wire want it dry",
        )
    drop = row("terrain", "hoar_surface_drop")
    yield _limit("frost", "at most", 0.0, kind=drop.kind, source="no ice on rungs or film")


def _light(phase: Phase, asked: TypedLimit | None) -> Iterator[Limit]:
    torch = phase.light == "torch" and (asked is None or not asked.phase)
    if not torch:
        yield from _either(asked, [_rule("light", "at least", "light_work")])


def _heat(job: Job) -> Limit:
    used = job.crew.used_to_heat
    metabolic = value("work_rules", "metabolic_moderate")
    return _limit(
        "heat",
        "at most",
        float(heat_limit(metabolic, used_to_heat=used)),
        kind="published",
        source=f"NIOSH 2016-106, crew {'used' if used else 'not used'} to heat",
    )


def _thunder(phase: Phase, wait: TypedLimit | None) -> Iterator[Limit]:
    if wait is not None and wait.off:
        return
    rule = row("work_rules", "thunder_wait")
    title = sources()[rule.source]["title"]
    yield _limit("thunder", "at most", 0.0, kind=rule.kind, source=title)
    if phase.drag > 0.0:
        ahead = row("work_rules", "thunder_before")
        yield _limit(
            "thunder_ahead",
            "at most",
            0.0,
            kind=ahead.kind,
            source="no loose film when the squall comes that runs ahead of thunder",
        )
