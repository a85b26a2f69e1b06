"""What ``tension`` says on a terminal: what to do now, the pull chart, the coming days."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from planner.reference.tables import value
from planner.report.screen.first import item, items
from planner.report.words import Words
from planner.report.yard.tension import beyond, chart_cells, remedy, to_do
from planner.units import show

if TYPE_CHECKING:
    from planner.plan.records import ChartRow, Course, CourseHour, TensionPlan

_TOP: Final = 9  # columns before what to do now
_SPAN: Final = 16  # columns of a span
_SAME: Final = 0.05  # K within which a row is that of the stress-free film
_MEASURE: Final = (
    "Measure the film at the locks: the mean of three, with a strip or a probe on the film, "
    "never on film that lies on the ground.  A cloud moves it {cloud}.",
    "Take the sunny and the shaded side each by its own film temperature.",
)
_TOO: Final = ", too much"
_CAUTIONS: Final = (
    "Tension is an estimate: the middle first, then the span of three ways to reckon it; "
    "stiffness and time law may move each by a factor of 1.8.",
    "How much film grows differs by 15 to 20 % from roll to roll: mark 2.000 m on an offcut "
    "and measure it again in the sun.",
    "Set the length, not the feel: the same pull by hand stretches hot film far more.",
)
#: Film temperatures of the chart [degC]: every 5 C or every 10 F, from frost to a hot day.
CHART_ROWS: Final = {
    "si": tuple(float(temp) for temp in range(0, 60, 5)),
    "us": tuple((temp - 32.0) * 5.0 / 9.0 for temp in range(30, 140, 10)),
}


def tension_screen(plan: TensionPlan, *, units: str) -> str:
    """Write how tight to lock the film: now, at any film temperature, and what follows.

    Parameters
    ----------
    plan : TensionPlan
        How tight, from ``make_tension``.
    units : {"us", "si"}
        Which units to write.

    Returns
    -------
    str
        Lines of at most 80 columns of ASCII.
    """
    words = Words(units=units, time_zone=plan.time_zone)
    sections = [
        _header(plan, words),
        _now(plan, words),
        _chart(plan, words),
        _choices(plan, words),
        _course(plan, words),
        [*_warnings(plan, words), *_cautions(plan, words), *_small_print(plan)],
    ]
    lines = ["\n".join(x.rstrip() for x in lines) for lines in sections if lines]
    return "\n\n".join(lines)


def _header(plan: TensionPlan, words: Words) -> list[str]:
    job = plan.job
    about = f"{job.name}: {words.house(job)}, {job.house.frame} frame"
    temp = show(plan.chart.stress_free, "temperature", words.units)
    return [
        *item("", about, width=0),
        *item("", f"Stress-free film temperature {temp}: neither slack nor tight.", width=0),
    ]


def _now(plan: TensionPlan, words: Words) -> list[str]:
    cloud = show(value("planning", "cloud_cools"), "temperature difference", words.units)
    measure = [_MEASURE[0].format(cloud=cloud), _MEASURE[1]]
    if plan.now is None:
        return items("Measure", measure, width=_TOP)
    return items("NOW", [*to_do(plan.now, words), *measure], width=_TOP)


def _chart(plan: TensionPlan, words: Words) -> list[str]:
    """Write the pull chart, the stress-free film in its place if no row is its own."""
    chart = plan.chart
    titles = "".join(f"{span:<{_SPAN}}" for span in chart.spans)
    lengths = "".join(
        f"{show(x, 'length', words.units):<{_SPAN}}" for x in chart.spans.values()
    )
    lines = [
        f"{'Film':<{_TOP}}{titles}{'mid-bay sag':<14}for the hand",
        f"{'':<{_TOP}}{lengths}",
    ]
    rows = sorted(chart.rows, key=lambda row: row.film_temp)
    own = [abs(row.film_temp - chart.stress_free) < _SAME for row in rows]
    for at, row in enumerate(rows):
        here = row.film_temp > chart.stress_free and not any(own)
        if here and at and rows[at - 1].film_temp < chart.stress_free:
            snug = "".join(f"{'snug':<{_SPAN}}" for _ in chart.spans)
            lines.append(f"{_temp(chart.stress_free, words)}{snug}{'-':<14}snug, stress-free")
        lines.append(_row(row, words) + (", stress-free" if own[at] else ""))
    return lines


def _row(row: ChartRow, words: Words) -> str:
    _, *pulls, sag, hand = chart_cells(row, words)
    cells = "".join(f"{pull:<{_SPAN}}" for pull in pulls)
    return f"{_temp(row.film_temp, words)}{cells}{sag:<14}{hand}"


def _temp(temp: float, words: Words) -> str:
    return f"{show(temp, 'temperature', words.units):>6}   "


def _choices(plan: TensionPlan, words: Words) -> list[str]:
    """Write what other choices of the stress-free film temperature would mean."""
    if not plan.choices:
        return []
    hot, cold = (
        show(x, "temperature", words.units) for x in (plan.choices[0].hot, plan.choices[0].cold)
    )
    when = ("a hot day", "the coldest night") if plan.course is None else ("hottest", "coldest")
    unit = "lbf/ft" if words.units == "us" else "N/m"
    lines = [
        f"{'Choice':<{_TOP}}{f'slack over bows, {when[0]}':<29}tension in {unit}, {when[1]}",
        f"{'':<{_TOP}}{f'film {hot}':<29}film {cold}",
    ]
    for choice in plan.choices:
        slack = words.small(next(iter(choice.slack.values())))
        slack = "none" if slack in {"0 in", "0 mm"} else slack
        own = "   this job" if choice.stress_free == plan.chart.stress_free else ""
        slack += _TOO * ("slack-hot" in choice.beyond)
        tension = _tension(choice.tension, words) + _TOO * ("tension-cold" in choice.beyond)
        lines.append(f"{_temp(choice.stress_free, words)}{slack:<29}{tension:<16}{own}")
    low = (
        "As if cooled in one night from there.  Lower hangs slacker in the sun, higher "
        "pulls harder in the cold."
    )
    return [*lines, *item("", low, width=_TOP)]


def _tension(tension: tuple[float, float, float], words: Words) -> str:
    """Write a tension as ``6 (6 to 13)``: the middle, and from least to most."""
    if not all(math.isfinite(x) for x in tension):
        return "no data"
    low, mid, high = (show(x, "force per length", words.units, unit=False) for x in tension)
    return f"{mid} ({low} to {high})" if tension[2] > 0.0 else "-"


def _course(plan: TensionPlan, words: Words) -> list[str]:
    """Write the hours of the coming days that matter, and what gust and end bows get."""
    course = plan.course
    if course is None or not course.hours:
        return []
    unit = "lbf/ft" if words.units == "us" else "N/m"
    day, night = (show(x, "temperature difference", words.units) for x in plan.error)
    lines = item(
        "Course",
        f"{'Taken as' if course.in_window else 'No hours found for it: taken as'} "
        f"locked {words.moment(course.locked)} by the chart, ends and doors shut "
        f"from then on.  Tension in {unit}; the most of it as a share of the film's yield and "
        f"of what channel holds.  Film is worked out, {day} off by day and {night} by night "
        "as a rule.",
        width=_TOP,
    )
    lines.append(f"{'':<33}{'film':>6}  {'slack':<9}{'tension':<18}{'yield':>5}{'chan.':>7}")
    named = {
        "an hour on": 0,
        "first night": course.first_night,
        "hottest": course.hottest,
        "coldest": course.coldest,
        "largest gust": course.windiest,
    }
    for name, at in named.items():
        if at is not None:
            hour = course.hours[at]
            lines.append(_hour(name, hour, words.moment(hour.time), words))
    return [*lines, *items("", _forces(course, words), width=_TOP)]


def _forces(course: Course, words: Words) -> list[str]:
    """Say what gust and end bows get, and how hot a bare bow becomes."""
    texts = []
    if math.isfinite(course.gust_tension):
        gust = show(course.gust, "speed", words.units)
        adds = show(course.gust_tension, "force per length", words.units)
        texts.append(f"The largest gust, {gust} at the ridge, adds {adds} while it lasts.")
    if course.end_hoop > 0.0:
        force = show(course.end_hoop, "force", words.units)
        texts.append(f"Each end bow is pulled inwards with up to {force} in all.")
    if math.isfinite(course.bow):
        texts.append(
            f"A bare bow in the sun reaches {show(course.bow, 'temperature', words.units)}."
        )
    return texts


def _hour(name: str, hour: CourseHour, time: str, words: Words) -> str:
    slack = words.small(next(iter(hour.slack.values()), math.nan))
    slack = "-" if slack in {"0 in", "0 mm"} else slack
    film = "-"
    if math.isfinite(hour.film_temp):
        film = show(hour.film_temp, "temperature", words.units)
    return (
        f"{name:<13}{time:<20}{film:>6}  {slack:<9}{_tension(hour.tension, words):<18}"
        f"{_share(hour.share_of_yield[2]):>5}{_share(hour.share_of_channel):>7}"
    )


def _share(share: float) -> str:
    return f"{100 * share:.0f}%" if math.isfinite(share) and share > 0.0 else "-"


def _warnings(plan: TensionPlan, words: Words) -> list[str]:
    strains = plan.course.beyond if plan.course else ()
    return items("Warnings", [f"{beyond(x, words)}.  {remedy(x)}".rstrip() for x in strains])


def _cautions(plan: TensionPlan, words: Words) -> list[str]:
    def shown(value: float) -> str:
        return show(value, "force per length", words.units)

    lines = list(_CAUTIONS)
    if math.isfinite(plan.curtain) and plan.curtain > 0.0:
        lines.append(
            f"A roll-up side grows {words.small(plan.curtain)} along the house from the "
            "coldest film to the hottest: leave its overlap that much room."
        )
    if plan.job.film.layers > 1:
        air = shown(plan.inflation)
        lines.append(f"Of the tension, {air} is the air between the layers.")
    holds = f"Channel is taken to hold {shown(plan.allowed)}"
    lines.append(
        f"{holds}, as the job file says."
        if plan.channel_known
        else f"{holds}, an assumed figure: give the maker's as channel_holds in the job file."
    )
    return items("Cautions", lines)


def _small_print(plan: TensionPlan) -> list[str]:
    doubts = sorted(plan.notes, key=lambda x: not x.doubt)
    return [
        *items("Notes", [x.text for x in doubts]),
        *items("Weather", [plan.credit] if plan.credit else []),
    ]
