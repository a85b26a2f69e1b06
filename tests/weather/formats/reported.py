"""Airport reports read apart from the planner: words of a report, reports of an hour.

By Federal Meteorological Handbook No. 1: chapter 8 for the groups of present weather
(intensity, descriptor, what falls), chapter 12 for the remarks (when it began and ended,
which sensors are out).
"""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter, defaultdict

HOUR = dt.timedelta(hours=1)
TRACE = 0.025  # mm
LARGEST = ("wind_speed", "wind_gust", "precipitation", "thunder")
FALLS = "(?:DZ|RA|SN|SG|IC|PL|GR|GS|UP)"
GROUP = re.compile(rf"[-+]?(?:MI|PR|BC|SH|TS|FZ)?{FALLS}+")  # not VC, near by; not BL, DR
SINCE = re.compile(rf"(?:SH|TS|FZ)?{FALLS}(?:[BE](?:\d\d(?:\d\d)?|MM))+")
STORM = re.compile(r"[-+]?(?:VC)?TS[A-Z]*")
STORM_SINCE = re.compile(r"TS[BE](?:\d\d|MM)")


def parts(report):
    """Give the groups of a report and those of its remarks."""
    body, _, remarks = report.partition(" RMK ")
    return body.split(), remarks.split()


def rained(report):
    """Say whether a report tells of rain or snow at the station since the one before."""
    body, remarks = parts(report)
    falls = any(GROUP.fullmatch(x) for x in body)
    # RAB05SNE20 is one group of two kinds
    since = (re.sub(r"(?<=\d)(?=[A-Z]{2})", " ", x).split() for x in remarks)
    return falls or any(SINCE.fullmatch(x) for group in since for x in group)


def thundered(report):
    """Say whether a report tells of thunder; None where its sensor is out."""
    body, remarks = parts(report)
    if "TSNO" in remarks:
        return None
    storm = any(STORM.fullmatch(x) for x in body) or "TS" in remarks
    return float(storm or any(STORM_SINCE.match(x) for x in remarks))


def fallen(gauge, report):
    """Give the rain of a report: the gauge's, if it works, and a trace where words say so."""
    if "PNO" in parts(report)[1]:
        gauge = None
    if rained(report):
        return max(gauge or 0.0, TRACE)
    return gauge


def hour_closed(when):
    """Give the start of the hour that ends at a time, or in which it lies."""
    full = when.replace(minute=0, second=0)
    return full - HOUR if when == full else full


def routine_minutes(reports):
    """Give the minutes of the hour, within two of the most usual, of routine reports."""
    minutes = Counter(when.minute for when, _ in reports)
    usual = min(minutes, key=lambda minute: (-minutes[minute], minute))
    return {(usual + more) % 60 for more in (-2, -1, 0, 1, 2)}


def by_hours(reports):
    """Put reports, each a time and what it says (None: nothing), into the hours they close.

    The largest wind, gust, rain and thunder of an hour counts, of the rest the last. What
    a special says of wind and rain does not stand for a routine report that says nothing.
    """
    reports = sorted(reports, key=lambda report: report[0])
    minutes = routine_minutes(reports)
    hours = defaultdict(list)
    for when, said in reports:
        here = {name: value for name, value in said.items() if value is not None}
        hours[hour_closed(when)].append((when.minute in minutes, here))
    out = {}
    for hour, found in hours.items():
        names = {name for _, said in found for name in said}
        out[hour] = {
            name: (max if name in LARGEST else last)([s[name] for _, s in found if name in s])
            for name in names
        }
    every = [said for found in hours.values() for usual, said in found if usual]
    for name in ("wind_speed", "precipitation"):
        if sum(name in said for said in every) < 0.5 * len(every):
            continue
        for hour, found in hours.items():
            usual = [said for routine, said in found if routine]
            if usual and not any(name in said for said in usual):
                out[hour].pop(name, None)
    return out


def last(values):
    """Give the last of some values."""
    return values[-1]
