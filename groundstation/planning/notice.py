"""A draft of what an authority's form asks for. The person files it; this does not.

Contents as in 14 CFR 101.37 and SERA Appendix 2, 5.1.2, partly from memory: the form itself counts.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from groundstation.html.templates import templates
from groundstation.physics.geodesy import distance_bearing
from groundstation.planning.course import FL600_M, Course
from groundstation.planning.forecast import Forecast
from groundstation.planning.readable_figures import METRIC, Shown
from groundstation.planning.settings import FlightFile, SiteSettings
from groundstation.planning.spread import Plan
from groundstation.search.spoken_places import degrees_minutes
from groundstation.units import FOOT_M, NAUTICAL_MILE_M, Units

DRAFT: Final = (
    "DRAFT, made by a program from a flight file. Not filed with anybody. Check every line against"
    " the authority's own form; whoever flies files it and keeps to what comes back."
)
WINDOW_S: Final = 1_800.0
"""14 CFR 101.37 asks for a change of the time to be told beyond half an hour."""


def notice_lines(
    flight: FlightFile, plan: Plan, forecast: Forecast, course: Course
) -> Iterator[tuple[str, str]]:
    """(what is asked for, the answer), in the order of the usual form."""
    site, lift, shown = flight.site, plan.lift, flight.shown
    minutes = degrees_minutes(site.latitude_deg, site.longitude_deg)
    launch = forecast.launch_utc
    yield "Identification", f"{flight.name}, unmanned free balloon"
    yield "Operator", flight.operator or "(not given)"
    yield "Telephone", flight.contact or "(not given)"
    yield "Launch site", f"{site.name}, {_degrees(site)}; {minutes}"
    if flight.reference is not None:
        away, bearing = distance_bearing(
            flight.reference.latitude_deg, flight.reference.longitude_deg,
            site.latitude_deg, site.longitude_deg,
        )  # fmt: skip
        yield (
            "Launch site from",
            f"{flight.reference.name}: {away / NAUTICAL_MILE_M:.1f} NM, {bearing:03.0f}° true",
        )
    yield "Elevation", _both(shown, "altitude", site.altitude_m)
    yield (
        "Launch window",
        f"{_utc(launch - WINDOW_S)} to {_utc(launch + WINDOW_S)};"
        f" {_local(launch - WINDOW_S, flight)} to {_local(launch + WINDOW_S, flight)} local",
    )
    yield "Number of balloons", "1"
    yield (
        "Balloon at launch",
        f"{shown.text('across', lift.diameter_m)} across,"
        f" {shown.text('mass', flight.balloon.mass_kg)}, {flight.gas.kind.value}",
    )
    yield "Suspension", f"{shown.text('length', flight.string_m)} from the neck to the last package"
    hangs = [(piece.name, piece.mass_kg) for piece in flight.package]
    if flight.parachute.mass_kg:
        hangs.append(("parachute", flight.parachute.mass_kg))
    packages = ", ".join(f"{name} {shown.text('mass', mass)}" for name, mass in hangs)
    yield "Payload", f"{shown.text('mass', flight.payload_kg)} in all: {packages}"
    yield "Ascent", _both(shown, "rate", plan.ascent_rate_ms.value)
    through = course.reaches(FL600_M)
    if through is None:
        yield "60,000 ft (FL600)", "not reached"
    else:
        after, lat, lon = through
        yield (
            "60,000 ft (FL600)",
            f"{_utc(launch + after)}, near {lat:.3f}, {lon:.3f}, going up",
        )
    burst = plan.burst_altitude_m
    yield (
        "Highest point",
        f"{_both(shown, 'height', burst.value)}, {shown.span('height', burst.low, burst.high)}",
    )
    yield "Expected course", "; ".join(_course(course, launch))
    landing = forecast.landing
    yield (
        "Expected landing",
        f"{_utc(landing.eta_utc)} ({_utc(landing.eta_90_utc[0])} to"
        f" {_utc(landing.eta_90_utc[1])}), {landing.latitude_deg:.3f},"
        f" {landing.longitude_deg:.3f},"
        f" within {landing.radius_90_m / NAUTICAL_MILE_M:.0f} NM (90 %)",
    )
    yield "Duration", f"{(landing.eta_utc - launch) / 60.0:.0f} min"


def _both(shown: Shown, kind: str, value: float) -> str:
    """In the person's units, and in the others: aviation counts in feet, some forms in metres."""
    other = METRIC if shown.units is Units.IMPERIAL else Shown(Units.IMPERIAL)
    return f"{shown.text(kind, value)} ({other.text(kind, value)})"


def notice_text(lines: Iterator[tuple[str, str]]) -> str:
    """As plain text."""
    return "\n".join([DRAFT, "", *(f"{name + ':':20} {text}" for name, text in lines), "", DRAFT])


def notice_html(name: str, lines: Iterator[tuple[str, str]]) -> str:
    """To be printed."""
    page = templates("groundstation.planning").get_template("notice.html")
    return page.render(name=name, draft=DRAFT, lines=lines)


def _course(course: Course, launch_utc: float) -> Iterator[str]:
    """Every 20 minutes."""
    step = 1_200.0
    for n in range(1, int(course.time_s[-1] // step) + 1):
        at = int(course.time_s.searchsorted(n * step))
        place = f"{course.latitude_deg[at]:.2f}, {course.longitude_deg[at]:.2f}"
        feet = course.altitude_m[at] / FOOT_M
        yield f"{_clock(launch_utc + n * step)} {place} at {round(feet, -3):,.0f} ft"


def _degrees(site: SiteSettings) -> str:
    return f"{site.latitude_deg:.5f}, {site.longitude_deg:.5f}"


def _moment(time_utc: float) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=round(time_utc))


def _utc(time_utc: float) -> str:
    return _moment(time_utc).strftime("%Y-%m-%d %H:%M UTC")


def _clock(time_utc: float) -> str:
    return _moment(time_utc).strftime("%H:%M")


def _local(time_utc: float, flight: FlightFile) -> str:
    return _moment(time_utc).astimezone(ZoneInfo(flight.zone)).strftime("%H:%M")
