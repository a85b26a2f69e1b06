"""What ``replay`` says on a terminal: scores by days ahead, rules, how chances held."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from planner.report.screen.first import item, items
from planner.report.words import Words, of_100

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

    from planner.history.records import DayAhead, Policy, Replay, Tenth

_NONE: Final = "-"  # where there is no number
_BY_DAY: Final = (
    ("Days ahead", 10),
    ("Windows", 9),
    ("Plain forecast", 16),
    ("Planner", 9),
    ("Climatology", 13),
    ("Planner/climatology", 21),
)
_POLICIES: Final = (
    ("Episodes", 10),
    ("Done", 6),
    ("Caught", 8),
    ("Missed", 8),
    ("Days waited", 13),
    ("Mean cost", 11),
    ("Of plain's", 12),
)
_RULE: Final = 12  # columns of a rule's name
_TENTHS: Final = (("Windows", 9), ("Said on average", 17), ("Held", 12))
_CHANCE: Final = 16  # columns of a tenth
_COSTS: Final = {
    "caught": "a sheet caught",
    "missed": "the days gone by",
    "waited": "a day waited",
}
_RULES: Final = {
    "planner": "The planner goes today if that is likely to cost less than to wait for the "
    "forecasts to come.",
    "plain rule": "The plain rule takes the forecast at its word: it goes on the first "
    "morning with a window inside every limit, the one with the most room.",
    "climatology": "Climatology goes by how often windows held in other months, whatever "
    "the forecast.",
    "hindsight": "Hindsight knows what came: no rule can cost less.",
}
_AT_ITS_WORD: Final = (
    "The plain forecast says 1 for a window inside every limit, else 0; climatology always "
    "says how many windows held in the months it was taken from."
)
_OWN_MONTHS: Final = (
    "The table of forecast errors was fitted on months that are scored here: expect "
    "other months to come out worse."
)
_CAUTIONS: Final = (
    "Where what happened is the analysis of the same provider, not a meter at the place, "
    "every score here flatters.",
    "Windows of one forecast, and of days in a row, hold or fail together: they count for "
    "fewer than they are.",
    "Skill in the past at one place does not promise it at another, nor for other limits.",
)


def replay_text(replay: Replay) -> str:
    """Write how good the chances were, and what came of going by them.

    Parameters
    ----------
    replay : Replay
        Past forecasts played against what happened.

    Returns
    -------
    str
        Lines of at most 80 columns of ASCII.
    """
    sections = [
        _header(replay),
        _days(replay.by_day),
        _policies(replay),
        _tenths(replay.tenths),
        [*items("Cautions", doubts(replay)), *_rules(replay), *_small_print(replay)],
    ]
    return "\n\n".join("\n".join(x.rstrip() for x in lines) for lines in sections if lines)


def played(replay: Replay) -> tuple[str, str, str]:
    """Say what was played and what it rests on, for the head of a face.

    Parameters
    ----------
    replay : Replay
        Past forecasts played against what happened.

    Returns
    -------
    tuple of str
        Job and step; forecasts and their days; windows.
    """
    words = Words(units="si", time_zone=replay.time_zone)

    def date(time: pd.Timestamp) -> str:
        return f"{words.day(time)}, {words.date(time).year}"

    return (
        f"{replay.job}: {replay.step}",
        f"{replay.issues:,} forecasts, {date(replay.first)} to {date(replay.last)}",
        f"{replay.windows:,} windows scored",
    )


def how_chances_held(tenths: Iterable[Tenth]) -> str:
    """Say in a sentence how often windows held that a crew would have gone for.

    Parameters
    ----------
    tenths : iterable of Tenth
        From a replay.

    Returns
    -------
    str
        Of the tenth with most windows that were more likely to hold than not, where there
        is one, else of the tenth with most windows.
    """
    full = [x for x in tenths if x.cases]
    if not full:
        return "No window could be scored."
    likely = [x for x in full if x.low >= 0.5] or full
    most = max(likely, key=lambda x: x.cases)
    windows = "1 window" if most.cases == 1 else f"{most.cases:,} windows"
    said, held = of_100(most.mean_chance), of_100(most.share_held)
    return f"Of the {windows} said to hold in {said}, {held} did."


def doubts(replay: Replay) -> tuple[str, ...]:
    """Say why scores may be better than what a crew will meet, for every face.

    Parameters
    ----------
    replay : Replay
        Past forecasts played against what happened.

    Returns
    -------
    tuple of str
        One sentence each; that of months fitted on first, where it is so.
    """
    return (_OWN_MONTHS, *_CAUTIONS) if replay.own_months else _CAUTIONS


def _header(replay: Replay) -> list[str]:
    what, forecasts, windows = played(replay)
    return [
        *item("", f"{what}, forecasts played against what happened", width=0),
        *item("", f"{forecasts}; {windows}.", width=0),
        *item("", f"Chances made with {replay.error}, fitted on {replay.fitted_on}.", width=0),
    ]


def _heads(columns: Iterable[tuple[str, int]]) -> str:
    return "".join(f"{name:>{width}}" for name, width in columns)


def _cells(columns: Iterable[tuple[str, int]], texts: Iterable[str]) -> str:
    pairs = zip(columns, texts, strict=True)
    return "".join(f"{text:>{width}}" for (_, width), text in pairs)


def _days(by_day: tuple[DayAhead, ...]) -> list[str]:
    if not by_day:
        return []
    lines = [
        "Brier score of the chance of every window, by days ahead: 0 is always right",
        _heads(_BY_DAY),
    ]
    for x in by_day:
        scores = (_decimals(score, 3) for score in (x.plain, x.planner, x.climatology))
        texts = [f"{x.days_ahead}", f"{x.cases:,}", *scores, _decimals(x.share, 2)]
        lines.append(_cells(_BY_DAY, texts))
    return [*lines, *item("", _AT_ITS_WORD, width=0)]


def _policies(replay: Replay) -> list[str]:
    """Write what each rule came to, and how far the planner gets towards hindsight."""
    if not replay.policies:
        return []
    cost: dict[str, float] = {x.name: x.cost for x in replay.policies}
    plain = cost.get("plain rule", math.nan)
    lines = [
        "Go today or wait, every morning: what came of it by each rule",
        f"{'Rule':<{_RULE}}{_heads(_POLICIES)}",
        *(_policy(x, plain) for x in replay.policies),
    ]
    costs = [
        f"{_COSTS.get(name, name)} {amount:g}"
        for name, amount in replay.costs.items()
        if math.isfinite(amount)
    ]
    if costs:
        lines += item("", f"Cost in sheets lost: {', '.join(costs)}.", width=0)
    return [*lines, *item("", _saved(cost), width=0)] if _saved(cost) else lines


def _policy(policy: Policy, plain: float) -> str:
    shares = (_percent(x) for x in (policy.done, policy.caught, policy.missed))
    of_plain = policy.cost / plain if plain else math.nan
    texts = [
        f"{policy.episodes:,}",
        *shares,
        _decimals(policy.days_waited, 1),
        _decimals(policy.cost, 3),
        _percent(of_plain),
    ]
    return f"{policy.name:<{_RULE}}{_cells(_POLICIES, texts)}"


def _saved(cost: dict[str, float]) -> str:
    """Say how much of what could be saved the planner saves; nothing where none could."""
    planner, plain, least = (
        cost.get(name, math.nan) for name in ("planner", "plain rule", "hindsight")
    )
    if planner > plain:
        return "Here the planner came out dearer than the plain rule."
    if not plain > least or math.isnan(planner):
        return ""
    share = of_100((plain - planner) / (plain - least))
    return f"Of what hindsight would save over the plain rule, the planner saves {share}."


def _tenths(tenths: tuple[Tenth, ...]) -> list[str]:
    if not any(x.cases for x in tenths):
        return [how_chances_held(tenths)]
    lines = [how_chances_held(tenths), f"{'Chance said':<{_CHANCE}}{_heads(_TENTHS)}"]
    for x in tenths:
        chance = f"{round(100 * x.low):>2} to {round(100 * x.high)} of 100"
        shares = [_of_100(share) for share in (x.mean_chance, x.share_held)]
        lines.append(f"{chance:<{_CHANCE}}{_cells(_TENTHS, [f'{x.cases:,}', *shares])}")
    return lines


def _rules(replay: Replay) -> list[str]:
    return items("Rules", [_RULES[x.name] for x in replay.policies])


def _small_print(replay: Replay) -> list[str]:
    return [*items("Notes", replay.notes), *items("Weather", replay.credits)]


def _decimals(value: float, digits: int) -> str:
    return f"{value:.{digits}f}" if math.isfinite(value) else _NONE


def _percent(share: float) -> str:
    return f"{100 * share:.0f}%" if math.isfinite(share) else _NONE


def _of_100(share: float) -> str:
    return of_100(share) if math.isfinite(share) else _NONE
