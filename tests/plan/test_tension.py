"""How tight: the chart, the pull at the locks, and the course of the coming days."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.errors import JobError, OutOfRange, WeatherError
from planner.plan.course import first_night, follow, gust_tension, inflation_tension
from planner.plan.make import make_plan
from planner.plan.pull import ALONG, OVER, chart_row, pull_chart, spans_of
from planner.plan.tension_plan import make_tension
from planner.report.screen.tension import CHART_ROWS
from tests.hours.made import job, weather

DONE = '[steps."end wall north"]\ndone = true\n[steps."end wall south"]\ndone = true\n'
ONE_MILLIMETRE = 1.0
STRESS_FREE = 35.0


@pytest.fixture(scope="module", autouse=True)
def made(tmp_path_factory):
    """Make one job for the tests that draw their numbers."""
    global MADE
    MADE = job(tmp_path_factory.mktemp("job"))


def warm_days(hours=96):
    """Make days from 5 to 30 degC, calm, with a clear sky."""
    temp = 17.5 + 12.5 * np.sin((np.arange(hours) - 9) / 24 * 2 * np.pi)
    return weather(hours, temp_air=temp, temp_dew=2.0, wind_speed=0.8, wind_gust=1.8)


def at_stress_free(the_job, temp):
    """Give the job with another stress-free film temperature."""
    return replace(the_job, film=replace(the_job.film, stress_free=temp))


def test_hot_film_is_left_slack_and_cold_film_is_pulled(tmp_path):
    """The sign turns at the stress-free temperature, in both directions of the sheet."""
    the_job = job(tmp_path)
    for span in (OVER, ALONG):
        assert chart_row(the_job, 48.0).pull[span] < 0.0
        assert chart_row(the_job, 8.0).pull[span] > 0.0
        assert chart_row(the_job, STRESS_FREE).pull[span] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("film", "stress_free", "mm_on_7_m"),
    [
        (5, 30, 30),
        (5, 40, 44),
        (15, 40, 33),
        (25, 40, 20.5),
        (35, 40, 7),
        (45, 40, -7.5),
        (55, 40, -24),
    ],
)
def test_rows_of_a_worked_chart(tmp_path, film, stress_free, mm_on_7_m):
    """Worked by hand for 7.0 m of film on steel; a working table, within one millimetre.

    The 6 m house locked at 1.2 m has 6.96 m over the bows, so the figures are scaled.
    """
    the_job = at_stress_free(job(tmp_path), float(stress_free))
    span = spans_of(the_job)[OVER]
    expected = mm_on_7_m * span / 7.0
    assert chart_row(the_job, float(film)).pull[OVER] == pytest.approx(
        expected, abs=ONE_MILLIMETRE
    )


@given(st.floats(-30, 55), st.floats(0, 50))
def test_pull_falls_as_film_warms(film, stress_free):
    """At any stress-free temperature, warmer film is pulled less."""
    the_job = at_stress_free(MADE, stress_free)
    assert chart_row(the_job, film + 1.0).pull[OVER] < chart_row(the_job, film).pull[OVER]


def test_the_sag_to_check_goes_with_the_slack(tmp_path):
    """Pulled film has no sag; hotter film sags more."""
    rows = pull_chart(job(tmp_path), CHART_ROWS["si"]).rows
    sags = [row.sag for row in rows]
    assert sags == sorted(sags)
    assert all((row.sag > 0) == (row.pull[OVER] < -1e-9) for row in rows)
    assert all((row.force > 0) == (row.pull[OVER] > 1e-9) for row in rows)


def test_a_stress_free_temperature_that_cannot_be(tmp_path):
    """Above the service limit of the film the job is refused, with its key."""
    with pytest.raises(JobError) as error:
        pull_chart(at_stress_free(job(tmp_path), 80.0), [20.0])
    assert error.value.key == "film.stress_free"


def test_film_too_hot_for_the_table(tmp_path):
    """A measured temperature outside the expansion table is refused, range stated."""
    with pytest.raises(OutOfRange, match="60") as error:
        chart_row(job(tmp_path), 90.0)
    assert (error.value.low, error.value.high) == (-40.0, 60.0)


def test_the_course_is_slack_when_hot_and_tight_when_cold(tmp_path):
    """Slack is largest in the hottest hour, tension in the coldest.

    Common practice, no source: film a little loose in hot sun tightens by night.
    """
    the_job = at_stress_free(job(tmp_path, DONE), 25.0)
    plan = make_tension(the_job, warm_days(), film_temps=[20.0])
    course = plan.course
    slack = [hour.slack[OVER] for hour in course.hours]
    high = [hour.tension[2] for hour in course.hours]
    assert int(np.argmax(slack)) == course.hottest
    assert max(slack) > 5.0
    assert course.hours[course.coldest].tension[2] == pytest.approx(max(high), rel=0.02)
    assert course.hours[course.hottest].tension[0] == 0.0
    assert all(low <= mid <= top for low, mid, top in (hour.tension for hour in course.hours))


def test_the_first_night_lies_in_the_first_night(tmp_path):
    """Its hour is dark and follows the locking by less than a day."""
    course = make_tension(job(tmp_path, DONE), warm_days(), film_temps=[20.0]).course
    night = course.hours[course.first_night].time
    assert night.hour >= 20 or night.hour <= 6
    assert night - course.locked < np.timedelta64(24, "h")


def test_too_loose_and_too_tight_are_said(tmp_path):
    """Locked for a cold day it hangs slack by noon; a weak channel is too weak at night."""
    weak = job(tmp_path, DONE)
    weak = replace(weak, house=replace(weak.house, channel_holds=60.0))
    loose = make_tension(at_stress_free(weak, 5.0), warm_days(), film_temps=[20.0]).course
    tight = make_tension(at_stress_free(weak, 45.0), warm_days(), film_temps=[20.0]).course
    assert "slack-hot" in {strain.code for strain in loose.beyond}
    assert "tension-cold" in {strain.code for strain in tight.beyond}
    assert all(x.value > x.allowed for x in (*loose.beyond, *tight.beyond))


def test_windows_carry_the_pull_at_the_locks(tmp_path):
    """Dawn is pulled, afternoon less: two windows of one day differ."""
    plan = make_plan(job(tmp_path, DONE), warm_days(), error=None)
    [roof] = [here for here in plan.steps if here.step.name == "roof sheet"]
    for window in roof.found.windows:
        assert window.pull.keys() == {OVER, ALONG}
        row = chart_row(plan.job, window.film_temp)
        assert window.pull[OVER] == row.pull[OVER]
        assert window.film_temp_shaded <= window.film_temp + 1e-9
        if window.first_night is not None:
            low, mid, high = window.first_night
            assert 0.0 <= low <= mid <= high
    others = [w for here in plan.steps if here is not roof for w in here.found.windows]
    assert all(window.pull is None for window in others)


def test_without_humidity_there_is_no_film_temperature(tmp_path):
    """A file that does not say enough gives no pull; asked for a course, it is refused."""
    dry = weather(96, temp_dew=None)
    plan = make_plan(job(tmp_path, DONE), dry, error=None)
    assert all(w.pull is None for here in plan.steps for w in here.found.windows)
    with pytest.raises(WeatherError, match="film temperature"):
        make_tension(job(tmp_path, DONE), dry, film_temps=[20.0])


def test_inflation_pulls_by_pressure_times_radius(tmp_path):
    """0.25 in w.c. is 62.3 Pa; at a radius of 3 m that is 187 N/m (membrane: T = p R)."""
    the_job = job(tmp_path)
    double = replace(the_job, film=replace(the_job.film, layers=2, inflation=62.3))
    assert inflation_tension(double) == pytest.approx(62.3 * 3.0)
    assert inflation_tension(the_job) == 0.0


def test_a_gust_pulls_with_the_square_of_its_speed(tmp_path):
    """Twice the gust, four times the pull, once the film's own weight is taken off."""
    the_job = job(tmp_path)
    weight = 0.15e-3 * 920 * 9.80665 * 3.0
    ten, twenty = (gust_tension(the_job, v) + weight for v in (10.0, 20.0))
    assert twenty / ten == pytest.approx(4.0, rel=1e-3)


def test_the_night_of_a_window_is_that_of_the_course(tmp_path):
    """The short way to the first night gives what the whole course gives."""
    from planner.hours.conditions import conditions_for

    the_job = job(tmp_path, DONE)
    conditions = conditions_for(the_job, warm_days())
    locked = conditions.times[12]
    course = follow(the_job, conditions, locked=locked)
    night = course.hours[course.first_night].tension
    assert first_night(the_job, conditions, locked=locked) == pytest.approx(night)


def test_choices_show_both_ends(tmp_path):
    """A higher stress-free temperature: less slack when hot, more tension when cold."""
    choices = make_tension(job(tmp_path), film_temps=[20.0]).choices
    assert STRESS_FREE in [choice.stress_free for choice in choices]
    slack = [choice.slack[OVER] for choice in choices]
    high = [choice.tension[2] for choice in choices]
    assert slack == sorted(slack, reverse=True)
    assert high == sorted(high)


def test_gust_inflation_and_cold_are_added_up(tmp_path):
    """A double under air: its tension has p R in it, and the gust comes on top of both.

    T = p R (membrane): 62.3 Pa at a radius of 3 m is 187 N/m.
    """
    double = job(tmp_path, DONE)
    double = replace(double, film=replace(double.film, layers=2, inflation=62.3))
    course = make_tension(double, warm_days(), film_temps=[20.0]).course
    assert min(hour.tension[0] for hour in course.hours) >= 62.3 * 3.0 - 1e-6
    single = make_tension(job(tmp_path, DONE), warm_days(), film_temps=[20.0]).course
    weak = replace(
        double, house=replace(double.house, channel_holds=course.gust_tension + 50.0)
    )
    codes = {x.code for x in make_tension(weak, warm_days(), film_temps=[20.0]).course.beyond}
    assert "gust-over-channel" in codes
    assert single.hours[0].tension[2] < course.hours[0].tension[2]


@pytest.mark.parametrize(
    ("film", "code"), [(-20.0, "film-cold"), (50.0, "film-hot"), (-20.0, "hard-pull")]
)
def test_what_speaks_against_pulling(tmp_path, film, code):
    """Too cold, too hot, too hard: said beside the figure."""
    assert code in chart_row(job(tmp_path), film).against
    assert chart_row(job(tmp_path), 20.0).against == ()


def test_choices_that_are_too_much_are_marked(tmp_path):
    """Locked for a cold day the sheet is too slack on a hot one; the job's own is listed."""
    cold = at_stress_free(job(tmp_path), -20.0)
    choices = {x.stress_free: x for x in make_tension(cold, film_temps=[20.0]).choices}
    assert "slack-hot" in choices[-20.0].beyond


def test_an_hour_beyond_the_table_does_not_stop_the_course(tmp_path):
    """At 54 degC of air the film is past the table: those hours hold no number."""
    hot = weather(96, temp_air=np.where(np.arange(96) == 40, 54.0, 20.0), temp_dew=2.0)
    course = make_tension(job(tmp_path, DONE), hot, film_temps=[20.0]).course
    assert any(np.isnan(hour.slack[OVER]) for hour in course.hours)


def test_no_window_is_said(tmp_path):
    """Where no hours were found the course starts at once, and says so."""
    storm = weather(96, wind_gust=20.0, wind_speed=12.0)
    assert not make_tension(job(tmp_path, DONE), storm, film_temps=[20.0]).course.in_window
