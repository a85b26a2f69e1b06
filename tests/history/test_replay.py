"""Replays of tiny archives whose outcome can be counted by hand, hour by hour."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.errors import UsageError, WeatherError
from planner.history.learn import learn
from planner.history.mornings import DAYS, Player
from planner.history.pairs import gather, months
from planner.history.replay import morning_runs, replay
from planner.hours.house import with_steps
from planner.job.jobfile import read_job
from tests.history.made_error import certain_error, made_archive, made_weather

JOB = Path(__file__).parents[1] / "data" / "replay_case.toml"
LATITUDE, LONGITUDE, ZONE = 40.71, -73.99, "America/New_York"  # of that job
FIRST = pd.Timestamp("2030-03-18T00:00Z")
RUN_AT = 11  # UTC, 7 o'clock
REACH, RUNS = 80, 28
STARTS = (2.6, 4.5, 4.5)  # largest gust of the three hours at the sheet [m/s]


@pytest.fixture(scope="module")
def job():
    return read_job(JOB)


def history(seed: int, *, days: int = RUNS + 4) -> dict[str, np.ndarray]:
    """Hours of an invented spring: gusts with a day, temperatures, showers."""
    rng = np.random.default_rng(seed)
    hours = 24 * days
    root = rng.normal(size=hours)
    behind = rng.normal(size=hours)
    for column, kept in ((root, 0.9), (behind, 0.8)):
        for hour in range(1, hours):
            column[hour] = kept * column[hour - 1] + math.sqrt(1 - kept**2) * column[hour]
    clock = np.arange(hours) % 24
    noon = np.cos(2 * np.pi * (clock - 18) / 24)
    gust = np.maximum(2.5 + 0.3 * noon + 0.6 * root, 0.1) ** 2
    return {
        "wind_gust": gust,
        "wind_speed": 0.5 * gust,
        "temp_air": 12.0 + 6.0 * noon + 0.5 * root,
        "precipitation": np.where(behind > 1.0, 0.4, 0.0),
    }


def runs_of(columns: dict[str, np.ndarray], *, runs: int = RUNS):
    """One forecast a day, of the columns as they are."""
    found = []
    for day in range(runs):
        begin = 24 * day + RUN_AT
        cut = {name: column[begin : begin + REACH] for name, column in columns.items()}
        hours = len(cut["wind_gust"])
        found.append(made_weather(hours, first=FIRST + pd.Timedelta(hours=begin), **cut))
    return made_archive(found)


def seen_of(columns: dict[str, np.ndarray]):
    return made_weather(len(columns["wind_gust"]), first=FIRST, kind="observed", **columns)


def played(job, said, came, error, *, runs=RUNS, **more):
    options = {"fitted_on": "other days", "own_months": False, "count": 40} | more
    archive = runs_of(said, runs=runs)
    return replay(job, archive, seen_of(came), error_for=lambda _: error, **options)


def certain():
    return certain_error(latitude=LATITUDE, longitude=LONGITUDE)


# By hand ------------------------------------------------------------------------------


def sun_up(times: pd.DatetimeIndex) -> np.ndarray:
    """Whether the sun's centre is above the horizon in the middle of each hour."""
    ephem = pytest.importorskip("ephem", reason="ephem is not installed")
    here = ephem.Observer()
    here.lat, here.lon, here.pressure = str(LATITUDE), str(LONGITUDE), 0
    found = []
    for time in times:
        here.date = (time + pd.Timedelta(minutes=30)).strftime("%Y/%m/%d %H:%M:%S")
        found.append(math.degrees(ephem.Sun(here).alt))
    assert np.abs(found).min() > 0.01  # ten times what two ways of reckoning differ by
    return np.array(found) > 0.0


@pytest.fixture(scope="module")
def light():
    hours = 24 * (RUNS + 4)
    return sun_up(pd.date_range(FIRST, periods=hours, freq="h"))


def holds(columns: dict[str, np.ndarray], light: np.ndarray) -> np.ndarray:
    """Whether three hours from each hour on are inside every limit, of the case as written."""
    found = np.zeros(len(light), dtype=bool)
    for start in range(len(light) - 2):
        found[start] = all(
            0.55 * columns["wind_gust"][start + x] <= STARTS[x]
            and columns["precipitation"][start + x] < 0.1
            and 5.0 <= columns["temp_air"][start + x] <= 32.0
            and light[start + x]
            for x in range(3)
        )
    return found


def windows(day: int, light: np.ndarray, *, hours: int = REACH):
    """Starts of a forecast, with days ahead: in daylight, whole, and from the issue on."""
    begin = 24 * day + RUN_AT
    issued = (FIRST + pd.Timedelta(hours=begin)).tz_convert(ZONE).date()
    for start in range(begin, min(begin + hours, len(light)) - 2):
        if all(light[start : start + 3]):
            local = (FIRST + pd.Timedelta(hours=start)).tz_convert(ZONE)
            yield start, (local.date() - issued).days


def test_windows_scores_and_usual_shares_are_those_of_a_loop(job, light):
    """Of every window by day ahead: how many, the forecast at its word, and the share that
    held in the other months.
    """
    said, came = history(1), history(2)
    said = {name: 0.5 * said[name] + 0.5 * came[name] for name in said}
    found = played(job, said, came, certain())
    word, truth = holds(said, light), holds(came, light)
    rows = []
    for day in range(RUNS):
        issued = FIRST + pd.Timedelta(hours=24 * day + RUN_AT)
        month = int(months(pd.DatetimeIndex([issued]), ZONE)[0])
        for start, ahead in windows(day, light):
            rows.append((month, ahead, float(word[start]), float(truth[start])))
    table = pd.DataFrame(rows, columns=["month", "ahead", "word", "held"])
    assert 0.1 < table.held.mean() < 0.5
    assert table.month.nunique() == 2
    usual = {x: table.held[table.month != x].mean() for x in table.month.unique()}
    assert (found.windows, found.issues) == (len(table), RUNS)
    assert [row.days_ahead for row in found.by_day] == [0, 1, 2, 3]
    for row in found.by_day:
        mine = table[table.ahead == row.days_ahead]
        assert row.cases == len(mine)
        assert row.plain == pytest.approx(((mine.word - mine.held) ** 2).mean())
        climatology = ((mine.month.map(usual) - mine.held) ** 2).mean()
        assert row.climatology == pytest.approx(climatology)
        assert row.planner == pytest.approx(row.plain, abs=0.02)  # a certain table
    assert sum(tenth.cases for tenth in found.tenths) == len(table)


def policy(found, name):
    return next(x for x in found.policies if x.name == name)


def hand_costs(light, said, came):
    """The plain rule and hindsight played day by day, with the case's own costs.

    Hindsight goes on the first day with a window; the plain rule on the first whose forecast
    has one, in that with the most room to a gust limit, of the ones that the case is bound by.
    """
    word, truth = holds(said, light), holds(came, light)
    costs = {"plain rule": [], "hindsight": []}
    for first in range(RUNS - DAYS + 1):
        for name in costs:
            cost = 0.0
            for day in range(first, first + DAYS):
                today = [start for start, ahead in windows(day, light) if ahead == 0]
                if name == "hindsight" and any(truth[today]):
                    break
                open_to = [start for start in today if word[start]]
                if name == "plain rule" and open_to:
                    start = max(open_to, key=lambda x: room(said, x))
                    cost += 0.0 if truth[start] else 1.0
                    break
                cost += 0.02
            else:
                cost += 0.5
            costs[name].append(cost)
    return {name: np.mean(x) for name, x in costs.items()}


def room(columns, start) -> float:
    """The least room of three hours: gusts over their bound, ten kelvins, a millimetre of the
    rain that falls at all.
    """
    least = math.inf
    for x in range(3):
        gust = 0.55 * columns["wind_gust"][start + x]
        air, rain = columns["temp_air"][start + x], columns["precipitation"][start + x]
        least = min(
            least,
            (STARTS[x] - gust) / STARTS[x],
            (air - 5.0) / 10.0,
            (32.0 - air) / 10.0,
            0.099 - rain if rain > 0.0 else math.inf,
        )
    return least


def test_costs_are_those_of_a_loop(job, light):
    """The plain rule and hindsight, every stretch of eight days."""
    came = history(2)
    other = history(1)
    said = {name: 0.7 * other[name] + 0.3 * came[name] for name in came}
    said["precipitation"] = np.where(said["precipitation"] > 0.2, 0.4, 0.0)
    found = played(job, said, came, certain())
    wanted = hand_costs(light, said, came)
    assert policy(found, "hindsight").episodes == RUNS - DAYS + 1
    assert policy(found, "hindsight").cost == pytest.approx(wanted["hindsight"])
    assert policy(found, "plain rule").cost == pytest.approx(wanted["plain rule"])
    assert 0.0 < policy(found, "plain rule").caught < 1.0
    assert found.costs == {"caught": 1.0, "missed": 0.5, "waited": 0.02}


# Perfect and useless forecasts --------------------------------------------------------


def test_perfect_forecasts_are_as_good_as_hindsight(job):
    """Chances of nought and one, all of them right; nothing caught; no cost above the least."""
    came = history(3)
    found = played(job, came, came, certain())
    for row in found.by_day:
        assert row.planner < 0.005
        assert row.plain == 0.0
        assert row.climatology > 0.1
    planner, best, plain = (policy(found, x) for x in ("planner", "hindsight", "plain rule"))
    assert planner.caught == plain.caught == 0.0
    assert dataclasses.replace(planner, name="hindsight") == best
    assert dataclasses.replace(plain, name="hindsight") == best
    assert policy(found, "climatology").cost >= best.cost
    ends = [found.tenths[0], found.tenths[-1]]
    assert sum(tenth.cases for tenth in ends) == found.windows
    assert [tenth.share_held for tenth in ends] == pytest.approx([0.0, 1.0], abs=0.005)


def test_useless_forecasts_are_hardly_worse_than_climatology(job):
    """Of another spring each, with a table learned from two more: the planner has learned
    that the forecast says nothing, and how windy it is at each hour.
    """
    pairs = gather(
        runs_of(history(11)),
        seen_of(history(12)),
        latitude=LATITUDE,
        longitude=LONGITUDE,
        time_zone=ZONE,
    )
    error = learn(pairs, name="learned", source="Invented")
    found = played(job, history(13), history(14), error, count=60)
    total = sum(row.cases for row in found.by_day)
    ours, usual, word = (
        sum(getattr(row, x) * row.cases for row in found.by_day) / total
        for x in ("planner", "climatology", "plain")
    )
    assert word > 1.3 * usual
    assert ours < 1.2 * usual  # four weeks are little to learn from
    assert policy(found, "planner").caught < policy(found, "plain rule").caught


def test_the_same_seed_gives_the_same_replay(job):
    """And another a slightly different one; progress is told to the end."""
    came, told, runs = history(3), [], 9
    own = dataclasses.replace(certain().gust, spread={"one": (-2.0, -2.0)})
    error = dataclasses.replace(certain(), gust=own)
    once, same, other = (
        played(
            job,
            came,
            came,
            error,
            runs=runs,
            count=20,
            seed=seed,
            progress=lambda *x: told.append(x),
        )
        for seed in (1, 1, 2)
    )
    assert once == same
    assert once.by_day != other.by_day
    assert told == 3 * [(x, runs) for x in range(1, runs + 1)]


# What is played -----------------------------------------------------------------------


def test_of_each_morning_the_first_run_before_noon_counts():
    """By the local clock: 15:59 UTC is 11:59 in summer time and 10:59 before it."""
    issues = [
        "2030-03-08T04:30Z",  # 23:30 of the 7th
        "2030-03-08T05:00Z",  # midnight: the first of the 8th
        "2030-03-08T11:00Z",
        "2030-03-09T17:00Z",  # noon is no morning
        "2030-03-10T16:30Z",  # the clocks went forward: half past twelve
        "2030-03-11T15:59Z",  # 11:59
        "2030-03-11T16:30Z",
        "2030-03-12T16:00Z",  # noon
    ]
    columns = {"wind_gust": 4.0, "wind_speed": 2.0}
    archive = made_archive(
        [made_weather(24, first=x[:14] + "00Z", issued=x, **columns) for x in issues]
    )
    assert morning_runs(archive, ZONE) == [1, 5]
    assert morning_runs(archive, "UTC") == [0]


def test_observations_of_other_days_are_refused(job):
    """Both spans are said."""
    came = history(3)
    early = seen_of({name: column[:24] for name, column in came.items()})
    late = dataclasses.replace(early, times=early.times - pd.Timedelta(days=100))
    with pytest.raises(WeatherError) as caught:
        replay(
            job,
            runs_of(came),
            late,
            error_for=lambda _: certain(),
            fitted_on="",
            own_months=True,
        )
    assert "2030-03-18 to 2030-04-17" in caught.value.message
    assert "2029-12-08" in caught.value.message
    assert "days that were forecast" in caught.value.fix


def test_too_few_windows_are_refused(job):
    """One day of observations says nothing."""
    came = history(3)
    short = {name: column[:36] for name, column in came.items()}
    with pytest.raises(WeatherError, match="windows") as caught:
        played(job, came, short, certain(), runs=3)
    assert "100" in caught.value.message


def test_a_job_with_nothing_to_do_is_refused(job):
    """Every step is done."""
    steps = {name: dataclasses.replace(step, done=True) for name, step in done_steps(job)}
    with pytest.raises(UsageError, match="done"):
        Player(
            job=dataclasses.replace(with_steps(job), steps=tuple(steps.values())),
            archive=runs_of(history(3)),
            observed=seen_of(history(3)),
            count=5,
            seed=1,
        )


def done_steps(job):
    return [(step.name, step) for step in with_steps(job).steps]


def test_a_morning_by_hand(job, light):
    """What each start of the day would have cost, the best start, the plain rule's."""
    said, came = history(4), history(5)
    player = Player(
        job=with_steps(job), archive=runs_of(said), observed=seen_of(came), count=30, seed=1
    )
    truth, word = holds(came, light), holds(said, light)
    for day in (0, 7, 20):
        morning, scored = player.morning(day, lambda _: certain())
        today = [start for start, ahead in windows(day, light) if ahead == 0]
        clock = [(FIRST + pd.Timedelta(hours=x)).tz_convert(ZONE).hour for x in today]
        costs = {
            hour: 0.0 if truth[start] else 1.0 for hour, start in zip(clock, today, strict=True)
        }
        assert morning.by_hour == costs
        assert morning.known
        assert morning.held == any(truth[x] for x in today)
        assert (morning.plain is None) == (not any(word[x] for x in today))
        assert len(morning.goes) == DAYS
        sheer = [x for x in scored.ahead if x == 0]
        assert len(sheer) == len(today)
        assert morning.day == (FIRST + pd.Timedelta(days=day)).date()


def test_what_is_not_known_is_not_scored(job, light):
    """A day without observations: its starts have no cost, and it is in no score."""
    came = history(5)
    gap = {name: column.copy() for name, column in came.items()}
    hours = slice(24 * 6 + 4, 24 * 7 + 4)  # all of a local day
    for column in gap.values():
        column[hours] = math.nan
    player = Player(
        job=with_steps(job), archive=runs_of(came), observed=seen_of(gap), count=5, seed=1
    )
    morning, scored = player.morning(6, lambda _: certain())
    assert not morning.known
    assert set(morning.by_hour.values()) == {None}
    assert not morning.held
    assert (scored.ahead > 0).all()
    assert player.cost(FIRST + pd.Timedelta(hours=24 * 6 + 15)) is None
    assert player.cost(FIRST - pd.Timedelta(hours=5)) is None


def test_starting_at_an_hour_is_starting_on_the_hour(tmp_path):
    """Where starts are tried every quarter of an hour too."""
    file = tmp_path / "job.toml"
    text = JOB.read_text(encoding="utf-8")
    file.write_text(text.replace('"60 min"', '"15 min"'), encoding="utf-8")
    job = with_steps(read_job(file))
    assert job.starts_every == 15
    archive, seen = runs_of(history(5), runs=6), seen_of(history(5))
    player = Player(job=job, archive=archive, observed=seen, count=5, seed=1)
    for day in range(6):
        morning, _ = player.morning(day, lambda _: certain())
        midnight = pd.Timestamp(morning.day, tz=ZONE)
        for hour, cost in morning.by_hour.items():
            assert cost == player.cost(midnight + pd.Timedelta(hours=hour))
