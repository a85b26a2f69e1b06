"""A plan made by hand: invented house, place, forecast and answers."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import pandas as pd
import pytest

from planner.film.sheet import Hardware, Sheet
from planner.hours.records import HourRow, PhaseTime, Reason, StepWindows, Window
from planner.job.records import (
    Crew,
    Film,
    House,
    Job,
    Limit,
    Phase,
    Place,
    Stakes,
    Step,
)
from planner.plan.records import (
    ColumnState,
    Decision,
    LightDay,
    Plan,
    StepPlan,
    WeatherState,
)
from planner.weather.table import Note

ZONE = "America/Chicago"
FIRST_DAY = dt.date(2031, 4, 29)
MPH = 0.44704


def at(text: str) -> pd.Timestamp:
    """A local time of the invented place, as the plan keeps it: UTC."""
    return pd.Timestamp(text).tz_localize(ZONE).tz_convert("UTC")


def phase(name: str, minutes: float, **more: object) -> Phase:
    about: dict[str, object] = {
        "hands": 5,
        "loose_area": 120.0,
        "drag": 0.5,
        "height": 3.0,
        "gust_ceiling": 4.5,
        "ceiling_source": "ceiling for pull and tack",
    }
    return Phase(name=name, minutes=minutes, **(about | more))


def gust_limit(bound: float, **more: object) -> Limit:
    about: dict[str, object] = {
        "quantity": "gust",
        "side": "at most",
        "bound": bound,
        "scale": bound,
        "kind": "worked out",
        "source": "5 people hold it",
    }
    return Limit(**(about | more))


def other_limits() -> tuple[Limit, ...]:
    def limit(quantity: str, side: str, bound: float, unit_scale: float) -> Limit:
        return Limit(
            quantity=quantity,
            side=side,
            bound=bound,
            scale=unit_scale,
            kind="practice",
            source="trade practice",
        )

    return (
        limit("rain", "at most", 0.1, 1.0),
        limit("temp_air", "at least", 5.0, 10.0),
        limit("light", "at least", 0.0, 60.0),
        limit("mean_wind", "at most", 2.0, 2.0),
    )


ROOF = Step(
    name="roof sheet",
    sheet="roof",
    phases=(
        phase("lay out", 40.0),
        phase("pull over", 20.0),
        phase("first locks", 25.0),
        phase("lock edges", 105.0, leave_gust=9.0),
    ),
    after=("end wall south",),
)
END_WALL = Step(
    name="end wall south",
    sheet="end wall",
    phases=(
        phase("hang and top clips", 40.0, hands=2),
        phase("lock arc and base", 40.0, hands=2),
    ),
)
ROOF_LIMITS = {
    "lay out": (gust_limit(11.4 * MPH), *other_limits()),
    "pull over": (
        gust_limit(
            4.0 * MPH,
            kind="yours",
            source="typed in the job file",
            replaced=5.1 * MPH,
            replaced_source="5 people hold it",
        ),
        gust_limit(4.5, kind="practice", source="ceiling for pull and tack", governs=False),
        *other_limits(),
    ),
    "first locks": (gust_limit(7.2 * MPH), *other_limits()),
    "lock edges": (gust_limit(11.4 * MPH), *other_limits()),
}
END_LIMITS = {x.name: (gust_limit(3.5), *other_limits()) for x in END_WALL.phases}


def reason(quantity: str, when: str, **more: object) -> Reason:
    about: dict[str, object] = {
        "quantity": quantity,
        "side": "at most",
        "value": 2.8,
        "bound": 4.0 * MPH,
        "unit": "m/s",
        "at": at(when),
        "phase": "pull over",
        "share": 1.0,
    }
    return Reason(**(about | more))


def window(
    start: str, *, step: Step = ROOF, limits=ROOF_LIMITS, rank: int = 1, gust=1.4
) -> Window:
    begin = at(start)
    phases, clock = [], begin
    for number, piece in enumerate(step.phases):
        ends = clock + pd.Timedelta(minutes=piece.minutes)
        expected = gust + 0.3 * number
        phases.append(
            PhaseTime(
                phase=piece.name,
                start=clock,
                end=ends,
                chance=1.0,
                gust=(expected - 0.5, expected, expected + 0.9),
                gust_limit=limits[piece.name][0].bound,
                hand_limit=0.9 * limits[piece.name][0].bound,
                beaufort=1,
                hands=piece.hands,
            )
        )
        clock = ends
    return Window(
        step=step.name,
        rank=rank,
        start=begin,
        earliest_start=begin - pd.Timedelta(minutes=15),
        latest_start=begin + pd.Timedelta(minutes=30),
        end=clock,
        down_by=clock + pd.Timedelta(hours=2),
        chance=1.0,
        slow_chance=1.0,
        margin=0.05,
        reason=reason("gust", start, value=gust + 0.3, share=0.0),
        phases=tuple(phases),
        swing=4.0,
    )


def hours(windows: tuple[Window, ...]) -> tuple[HourRow, ...]:
    """Ten days: calm at dawn, windy by noon, one wet day, one day without data."""
    rows = []
    for number in range(240):
        time = at(str(FIRST_DAY)) + pd.Timedelta(hours=number)
        local = time.tz_convert(ZONE)
        gust = 1.2 + 4.0 * max(math.sin((local.hour - 6) / 12 * math.pi), 0.0)
        why = reason("gust", "2031-04-29", value=gust, at=time)
        if local.day == 3:
            why = reason("rain", "2031-04-29", value=1.2, bound=0.1, unit="mm", at=time)
        if local.day == 5:
            why, gust = reason("no data", "2031-04-29", value=math.nan, at=time), math.nan
        if not 6 <= local.hour < 20:
            about = {"value": -math.inf, "bound": 0.0, "unit": "min", "side": "at least"}
            why = reason("light", "2031-04-29", at=time, **about)
        begin = time.floor("h")
        good = any(
            x.earliest_start <= begin <= x.latest_start
            and begin + pd.Timedelta(hours=1) > x.start
            for x in windows
        )
        rows.append(
            HourRow(
                time=time,
                chance=1.0 if good else 0.0,
                open_to=True,
                reason=why,
                gust_at_sheet=gust,
                temp_air=9.0,
                film_temp=None,
                work_light_left=max((20.0 - local.hour) * 60.0, 0.0) if local.hour > 5 else 0.0,
            )
        )
    return tuple(rows)


def light() -> tuple[LightDay, ...]:
    days = [FIRST_DAY + dt.timedelta(days=number) for number in range(10)]
    return tuple(
        LightDay(
            day=day,
            sunrise=at(f"{day} 06:08"),
            sunset=at(f"{day} 20:12"),
            begin=at(f"{day} 05:51"),
            end=at(f"{day} 20:29"),
        )
        for day in days
    )


JOB = Job(
    name="Quillet Hollow house 3",
    place=Place(latitude=44.0, longitude=-93.0, time_zone=ZONE),
    house=House(
        profile="round",
        width=9.144,
        length=29.2608,
        leg=0.0,
        ridge=4.572,
        hip=1.2,
        bow_spacing=1.2,
    ),
    film=Film(thickness=0.0001524, stress_free=35.0),
    crew=Crew(people=5, hold=150.0, pace=1.3),
    stakes=Stakes(sheet_lost=1500, deadline_missed=500, day_waited=40, sent_home=250),
    steps=(END_WALL, ROOF),
    finish_by=dt.date(2031, 5, 9),
    assumed=("ridge 15 ft: half of the width", "ground open"),
    file="house3.toml",
    units="us",
)
WEATHER = WeatherState(
    format="plain",
    kind="forecast",
    credit="Forecast by the invented met office of Quillet, CC BY 4.0",
    first=at("2031-04-29"),
    last=at("2031-05-09"),
    issued=at("2031-04-29 07:00"),
    issued_from="file",
    fetched=None,
    stale="",
    members=1,
    hours=240,
    columns=(
        ColumnState(name="temp_air", origin="given", hours=0),
        ColumnState(name="wind_speed", origin="given", hours=0),
        ColumnState(name="wind_gust", origin="given", hours=28),
        ColumnState(name="precipitation", origin="given", hours=0),
    ),
)
HARDWARE = Hardware(
    channel_sides=58.5,
    channel_end_hoops=22.0,
    channel_end_walls=40.0,
    bays=24,
    bows=25,
    throw_lines=5,
    throw_line_length=17.1,
    keep_clear=20.1,
    straps=12,
    strap_length=15.1,
    cord_per_side=87.0,
)
SHEETS = (
    Sheet(sheet="roof", count=1, width=12.0, length=30.5, area=366.0, mass=51.4),
    Sheet(sheet="end wall", count=2, width=9.7, length=5.2, area=50.4, mass=7.1),
)


def forecast_plan() -> Plan:
    """Hold today; the roof sheet goes on two days later at dawn."""
    roof = (
        window("2031-05-01 06:15"),
        window("2031-05-02 06:30", rank=2),
        window("2031-05-06 18:15", rank=3),
    )
    end = (window("2031-04-30 18:15", step=END_WALL, limits=END_LIMITS),)
    steps = (
        StepPlan(
            step=END_WALL,
            found=StepWindows(
                limits=END_LIMITS, windows=end, hours=hours(end), none_because=None
            ),
        ),
        StepPlan(
            step=ROOF,
            found=StepWindows(
                limits=ROOF_LIMITS, windows=roof, hours=hours(roof), none_because=None
            ),
        ),
    )
    return Plan(
        job=JOB,
        now=at("2031-04-29 08:10"),
        time_zone=ZONE,
        weather=WEATHER,
        notes=(Note(code="hour-label", text="Times label the start of the hour."),),
        steps=steps,
        decision=Decision(
            answer="hold",
            step="roof sheet",
            window=roof[0],
            look_again=at("2031-04-30 20:00"),
            codes=("starts-later",),
        ),
        light=light(),
        sheets=SHEETS,
        hardware=HARDWARE,
        make_safe=15.0,
        beyond=(),
    )


def with_roof(plan: Plan, windows: tuple[Window, ...], **decision: object) -> Plan:
    """The same plan with other windows of the roof sheet and another decision."""
    end_wall, roof = plan.steps
    because = decision.pop("none_because", None)
    found = replace(roof.found, windows=windows, hours=hours(windows), none_because=because)
    return replace(
        plan,
        steps=(end_wall, replace(roof, found=found)),
        decision=replace(plan.decision, window=windows[0] if windows else None, **decision),
    )


def go_today(plan: Plan) -> Plan:
    return with_roof(
        plan,
        (window("2031-04-29 17:15"),),
        answer="go",
        look_again=None,
        codes=("starts-today",),
    )


def over_midnight(plan: Plan) -> Plan:
    return with_roof(plan, (window("2031-05-01 22:45"),))


def no_window(plan: Plan) -> Plan:
    return with_roof(
        plan,
        (),
        answer="no-go",
        codes=("no-window",),
        none_because=reason("gust", "2031-05-02 07:00"),
    )


def no_data(plan: Plan) -> Plan:
    return with_roof(
        plan,
        (),
        answer="no-data",
        codes=("not-covered",),
        none_because=reason("no data", "2031-05-02 07:00", value=math.nan),
    )


def all_done(plan: Plan) -> Plan:
    decision = Decision(
        answer="no-go", step=None, window=None, look_again=None, codes=("all-done",)
    )
    return replace(plan, steps=(), decision=decision)


def past_finish(plan: Plan) -> Plan:
    return with_roof(plan, (), answer="no-go", look_again=None, codes=("past-finish",))


def waiting(plan: Plan) -> Plan:
    plan = with_roof(plan, (), answer="hold", codes=("waits-for-earlier-step",))
    end_wall, roof = plan.steps
    found = replace(end_wall.found, windows=(), none_because=reason("rain", "2031-05-01 09:00"))
    return replace(plan, steps=(replace(end_wall, found=found), roof))


def many_weathers(plan: Plan) -> Plan:
    """The same plan as an ensemble would give it."""
    chances = (0.81, 0.64, 0.47)
    windows = tuple(
        replace(x, chance=chance)
        for x, chance in zip(plan.steps[1].found.windows, chances, strict=True)
    )
    plan = replace(plan, weather=replace(plan.weather, members=500, kind="ensemble"))
    return with_roof(plan, windows)


def pulled(plan: Plan) -> Plan:
    first, *rest = plan.steps[1].found.windows
    pull = {"over the bows": 41.3, "end to end": -12.0}
    return with_roof(plan, (replace(first, film_temp=14.4, pull=pull), *rest))


def station_record(plan: Plan) -> Plan:
    weather = replace(plan.weather, kind="observed", issued=None, issued_from="")
    return replace(plan, weather=weather)


def no_dusk(plan: Plan) -> Plan:
    days = tuple(
        LightDay(day=x.day, sunrise=None, sunset=None, begin=None, end=None) for x in plan.light
    )
    return replace(plan, light=days)


CASES = {
    "hold": lambda plan: plan,
    "go": go_today,
    "over midnight": over_midnight,
    "no window": no_window,
    "no data": no_data,
    "all done": all_done,
    "past finish": past_finish,
    "waiting": waiting,
    "many weathers": many_weathers,
    "pulled": pulled,
    "station record": station_record,
    "no dusk": no_dusk,
}


@pytest.fixture
def plan() -> Plan:
    return forecast_plan()


@pytest.fixture(params=CASES)
def any_plan(request: pytest.FixtureRequest) -> Plan:
    return CASES[request.param](forecast_plan())


@pytest.fixture
def case():
    """Give the plan of a named case."""
    return lambda name: CASES[name](forecast_plan())
