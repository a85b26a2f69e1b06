"""Conditions: the weather of the file turned into what limits are compared with.

Blank gusts and missing sunlight are filled here, where roughness, place and
weather meet. What the file does not say stays unknown, and unknown is never
inside a limit.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from planner.film.temperature import bow_temperature, film_temperature
from planner.hours.records import Conditions, middle
from planner.hours.spans import QUARTERS
from planner.hours.working_time import crew_times, light_levels, minutes_left
from planner.reference.tables import value
from planner.site.body import (
    dew_point,
    heat_index,
    relative_humidity,
    thunder_closed,
    wet_bulb_globe,
    wind_chill,
)
from planner.site.light import clear_sky_ghi, ghi_under_cloud, sky_light, work_light
from planner.site.sun import sun_elevation, sun_times
from planner.site.wet import film_wetness, frost, is_dry, net_radiation, sky_longwave
from planner.site.wind import (
    gust_from_mean,
    gust_in_strong_sun,
    mean_at_height,
)

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Collection

    from numpy.typing import NDArray

    from planner.film.temperature import Place as FilmPlace
    from planner.hours.records import Floats
    from planner.job.records import Job
    from planner.site.sun import SunTimes
    from planner.weather.table import Weather

    Booleans = NDArray[np.bool_]
    Times = NDArray[np.datetime64]


def conditions_for(
    job: Job,
    weather: Weather,
    *,
    wanted: Collection[str] | None = None,
    pace: Floats | None = None,
) -> Conditions:
    """Turn the weather of a file into what the limits of a job are compared with.

    Parameters
    ----------
    job : Job
        Its place decides light and wind at the sheet.
    weather : Weather
        As read.
    wanted : collection of str, optional
        The quantities that some limit asks for; all by default. Gust and air
        temperature are always there.
    pace : numpy.ndarray, shape (members,), optional
        By which the crew's minutes are multiplied in each member, as ``draw_paces`` gives
        them; its own pace throughout by default [-].

    Returns
    -------
    Conditions
        Quantities for which the file has nothing at all are left out.

    Notes
    -----
    A blank gust is filled from the mean wind of its member and marked estimated. Rain
    counts as falling where its probability reaches the row ``rain_probability``, whatever
    the amount says. Sunlight is worked out from the sun's height and the cloud cover where
    the file has none.

    The members of an ensemble carry the scatter of gusts and the chance of rain already:
    their gusts are not raised in strong sun, and it rains in those that have an amount.
    """
    basis = _Basis(job, weather)
    values = {}
    for quantity, work_out in _QUANTITIES.items():
        if wanted is None or quantity in wanted or quantity in {"gust", "temp_air"}:
            worked_out = work_out(basis)
            if worked_out is not None:
                values[quantity] = np.atleast_2d(worked_out)
    light = {level: basis.light(level) for level in light_levels(job)}
    begin, end = light[value("work_rules", "light_work")]
    crew = crew_times(job, basis.days, light_begin=begin, light_end=end)
    days = slice(1, -1)  # one more local day on either side, for light past midnight
    return Conditions(
        times=weather.times,
        time_zone=job.place.time_zone,
        values=values,
        weights=weather.weights,
        days=tuple(basis.days[days]),
        light_begin=begin[days],
        light_end=end[days],
        sunrise=basis.sun.sunrise[days],
        sunset=basis.sun.sunset[days],
        light_left={
            level: minutes_left(weather.times, *times) for level, times in light.items()
        },
        crew_left=minutes_left(weather.times, *crew),
        estimated={
            "wind_gust": np.asarray(basis.blank_gust.all(axis=0)),
            "gust_in_sun": _raised(basis, values["gust"]),
        },
        site_ratio=job.place.gust_at_sheet,
        ground=job.place.ground,
        pace=np.ones(weather.members) if pace is None else pace,
    )


class _Basis:
    """What several quantities share, each worked out once."""

    def __init__(self, job: Job, weather: Weather) -> None:
        self.job = job
        self.weather = weather
        self.place = (job.place.latitude, job.place.longitude)

    def get(self, name: str) -> Floats | None:
        """Give a column of the file, None where it is missing."""
        return self.weather.values[name] if self.weather.has(name) else None

    @cached_property
    def days(self) -> list[dt.date]:
        """Local days of the file with one more on either side."""
        import pandas as pd

        local = self.weather.times[[0, -1]].tz_convert(self.job.place.time_zone)
        first, last = (day.tz_localize(None).normalize() for day in local)
        day = pd.Timedelta(days=1)
        return list(pd.date_range(first - day, last + day, freq="D").date)

    @cached_property
    def sun(self) -> SunTimes:
        return sun_times(self.days, *self.place, time_zone=self.job.place.time_zone)

    @cached_property
    def elevation(self) -> Floats:
        """Height of the sun in the middle of each hour [deg]."""
        import pandas as pd

        return sun_elevation(self.weather.times + pd.Timedelta(minutes=30), *self.place)

    @cached_property
    def cloud(self) -> Floats:
        """Cloud cover, none where it is not known [%]."""
        cloud = self.get("cloud_cover")
        return np.zeros((1, self.weather.hours)) if cloud is None else np.nan_to_num(cloud)

    @cached_property
    def ghi(self) -> Floats:
        """Sunlight on level ground, clear where neither it nor cloud is known [W/m2]."""
        clear = clear_sky_ghi(self.elevation)[None, :]
        worked_out = ghi_under_cloud(clear, self.cloud)
        given = self.get("ghi")
        return worked_out if given is None else np.where(np.isnan(given), worked_out, given)

    @cached_property
    def dew(self) -> Floats | None:
        """Dew point [degC]."""
        dew, humidity, temp = map(self.get, ("temp_dew", "relative_humidity", "temp_air"))
        if dew is None and humidity is not None and temp is not None:
            return dew_point(temp, humidity)
        return dew

    @cached_property
    def humidity(self) -> Floats | None:
        """Relative humidity, of each member where dew points are [%]."""
        humidity, temp = self.get("relative_humidity"), self.get("temp_air")
        if self.dew is None or temp is None:
            return humidity
        if humidity is None or len(humidity) < len(self.dew):
            return relative_humidity(temp, self.dew)
        return humidity

    @cached_property
    def sky(self) -> Floats | None:
        """Heat that the sky sends down [W/m2]."""
        temp = self.get("temp_air")
        if temp is None or self.dew is None:
            return None
        return sky_longwave(temp, self.dew, self.cloud)

    @cached_property
    def blank_gust(self) -> Booleans:
        """Where the file gives a mean wind but no gust."""
        mean, gust = self.weather.values["wind_speed"], self.get("wind_gust")
        blank = ~np.isnan(mean)
        return blank if gust is None else blank & np.isnan(gust)

    @cached_property
    def wetness(self) -> Floats | None:
        """Water on the film [mm]."""
        rain, temp, wind = _rain(self), self.get("temp_air"), self.get("wind_speed")
        if rain is None or temp is None or wind is None or self.dew is None:
            return None
        cloud = self.get("cloud_cover")
        cloudy = np.full((1, 1), 100.0) if cloud is None else np.nan_to_num(cloud, nan=100.0)
        light = self.get("ghi")
        if light is None:  # what is not known dries nothing
            light = ghi_under_cloud(clear_sky_ghi(self.elevation)[None, :], cloudy)
        net = net_radiation(light, temp, self.dew, cloudy)
        at_sheet = mean_at_height(wind, self.job.house.ridge / 2)
        night = value("terrain", "dew_of_a_night")
        return film_wetness(rain, temp, self.dew, at_sheet, net, before=night)

    @cached_property
    def temp_film(self) -> Floats | None:
        """Film on open bows, half way up the house [degC]."""
        return self.film("bows")

    @cached_property
    def bow(self) -> Floats | None:
        """Bare bows in the sun [degC]."""
        temp, wind = self.get("temp_air"), self.get("wind_speed")
        if temp is None or wind is None or self.sky is None:
            return None
        half_way = mean_at_height(wind, self.job.house.ridge / 2)
        frame = self.job.house.frame
        return bow_temperature(temp, half_way, self.ghi, self.sky, frame=frame)

    def film(self, place: FilmPlace, *, shaded: bool = False) -> Floats | None:
        """Film half way up the house; out of the sun it sees the sky's light only [degC]."""
        temp, wind = self.get("temp_air"), self.get("wind_speed")
        if temp is None or wind is None or self.sky is None:
            return None
        wet = False if self.wetness is None else ~is_dry(self.wetness)
        ghi = sky_light(self.ghi, self.elevation, self.weather.times) if shaded else self.ghi
        return film_temperature(
            temp,
            mean_at_height(wind, self.job.house.ridge / 2),
            ghi,
            self.sky,
            kind=self.job.film.kind,
            place=place,
            wet=wet,
        )

    def light(self, lux: float) -> tuple[Times, Times]:
        """Begin and end of the light to work by on each local day, by cloud and storm."""
        sky: dict[str, Any] = {}
        for side, moment in (("begin", self.sun.sunrise), ("end", self.sun.sunset)):
            cloud = self._at(self.get("cloud_cover"), moment)
            sky[f"cloud_{side}"] = np.where(np.isnan(cloud), 100.0, cloud)
            sky[f"dark_{side}"] = self._at(self.get("thunder"), moment) >= 0.5
        light = work_light(
            self.days, *self.place, time_zone=self.job.place.time_zone, lux=lux, **sky
        )
        return light.begin, light.end

    def _at(self, values: Floats | None, moments: Times) -> Floats:
        """Give the middle member in the hours of some moments, NaN outside the file."""
        found = np.full(len(moments), np.nan)
        if values is None:
            return found
        first = self.weather.times[0].tz_localize(None).to_numpy()
        hour = np.floor((moments - first) / np.timedelta64(1, "h"))
        known = (hour >= 0) & (hour < values.shape[1])  # NaT compares false
        found[known] = middle(values)[hour[known].astype(int)]
        return found


def _gust(basis: _Basis) -> Floats:
    """Largest gust of the hour at 10 m, blanks filled [m/s].

    Puffs of strong sun are counted in a forecast and where a record was blank; members of
    an ensemble carry the scatter of gusts already.
    """
    mean, gust = basis.weather.values["wind_speed"], basis.get("wind_gust")
    ground = basis.job.place.ground
    filled = gust_from_mean(mean, ground)
    if gust is not None:
        given = gust
        if basis.weather.gust_meaning == "10-minute maximum":
            given = np.fmax(gust, filled)  # the rest of the hour may have been gustier
        filled = np.where(basis.blank_gust, filled, given)
    if basis.weather.kind == "ensemble":
        return filled
    with_thermals = gust_in_strong_sun(filled, mean, basis.ghi, ground=ground)
    if basis.weather.kind == "observed":
        return np.where(basis.blank_gust, with_thermals, filled)
    return with_thermals


def _raised(basis: _Basis, gust: Floats) -> Booleans:
    """Hours in which a given gust was raised to what sun or a short report leaves open."""
    given = basis.get("wind_gust")
    if given is None:
        return np.zeros(basis.weather.hours, dtype=bool)
    return np.asarray((gust > given + 1e-9).any(axis=0))


def _rain(basis: _Basis) -> Floats | None:
    """Rain in the hour, counted as falling where it is likely enough [mm]."""
    amount, chance = basis.get("precipitation"), basis.get("precipitation_probability")
    drawn = basis.weather.kind == "ensemble" and amount is not None
    if chance is None or drawn:
        return amount
    likely = np.where(
        chance >= value("planning", "rain_probability"), value("planning", "rain_likely"), 0.0
    )
    likely = np.where(np.isnan(chance), np.nan, likely)
    return likely if amount is None else np.fmax(amount, likely)


def _heat(basis: _Basis) -> Floats | None:
    if basis.humidity is None:
        return None
    return wet_bulb_globe(
        basis.weather.values["temp_air"],
        basis.humidity,
        basis.weather.values["wind_speed"],
        basis.ghi,
    )


def _frost(basis: _Basis) -> Floats | None:
    if basis.dew is None or basis.wetness is None:
        return None
    return frost(basis.weather.values["temp_air"], basis.dew, basis.wetness).astype(float)


def _film_quarters(basis: _Basis) -> Floats | None:
    """Film temperature at each quarter hour, between the middles of hours [degC]."""
    film = basis.temp_film
    if film is None:
        return None
    before = np.concatenate([film[:, :1], film[:, :-1]], axis=1)
    after = np.concatenate([film[:, 1:], film[:, -1:]], axis=1)
    sides = ((before, 0.5), (before, 0.25), (film, 0.0), (after, 0.25))
    quarters = np.empty((*film.shape, QUARTERS))
    for quarter, (side, share) in enumerate(sides):
        quarters[:, :, quarter] = film + share * (side - film)
    return quarters.reshape(len(film), -1)


def _thunder(basis: _Basis, *, hours_before: int) -> Floats | None:
    thunder = basis.get("thunder")
    if thunder is None:
        return None
    return thunder_closed(
        thunder, hours_before=hours_before, wait_minutes=basis.job.thunder_wait
    )


_QUANTITIES: Final[dict[str, Callable[[_Basis], Floats | None]]] = {
    "gust": _gust,
    "mean_wind": lambda basis: basis.get("wind_speed"),
    "rain": _rain,
    "temp_air": lambda basis: basis.get("temp_air"),
    "temp_film": lambda basis: basis.temp_film,
    "temp_film_shaded": lambda basis: basis.film("bows", shaded=True),
    "temp_bow": lambda basis: basis.bow,
    "temp_film_closed": lambda basis: basis.film("closed house"),
    "film_swing": _film_quarters,
    "wetness": lambda basis: basis.wetness,
    "frost": _frost,
    "sun": lambda basis: basis.elevation,
    "heat": _heat,
    "heat_index": lambda basis: (
        None
        if basis.humidity is None
        else heat_index(basis.weather.values["temp_air"], basis.humidity)
    ),
    "chill": lambda basis: wind_chill(
        basis.weather.values["temp_air"], basis.weather.values["wind_speed"]
    ),
    "thunder": lambda basis: _thunder(basis, hours_before=0),
    "thunder_ahead": lambda basis: _thunder(
        basis, hours_before=int(value("work_rules", "thunder_before"))
    ),
}
