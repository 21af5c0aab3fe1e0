"""A draft of what an authority's form asks for. The person files it; this does not.

Contents as in 14 CFR 101.37 and SERA Appendix 2, 5.1.2, partly from memory: the form itself counts.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from groundstation.html.templates import templates
from groundstation.language.catalogue import N_, _
from groundstation.language.dates import day_text
from groundstation.language.numbers import number
from groundstation.physics.geodesy import distance_bearing
from groundstation.planning.course import FL600_M, Course
from groundstation.planning.forecast import Forecast
from groundstation.planning.readable_figures import METRIC, Shown
from groundstation.planning.settings import FlightFile, SiteSettings
from groundstation.planning.spread import Plan
from groundstation.search.spoken_places import degrees_minutes
from groundstation.units import FOOT_M, NAUTICAL_MILE_M, Units

DRAFT: Final = N_(
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
    yield _("Identification"), _("{name}, unmanned free balloon", name=flight.name)
    yield _("Operator"), flight.operator or _("(not given)")
    yield _("Telephone"), flight.contact or _("(not given)")
    yield _("Launch site"), f"{site.name}, {_degrees(site)}; {minutes}"
    if flight.reference is not None:
        away, bearing = distance_bearing(
            flight.reference.latitude_deg, flight.reference.longitude_deg,
            site.latitude_deg, site.longitude_deg,
        )  # fmt: skip
        degrees = f"{bearing:03.0f}"
        yield (
            _("Launch site from"),
            _(
                "{name}: {distance} NM, {bearing}° true",
                name=flight.reference.name,
                distance=number(away / NAUTICAL_MILE_M, 1),
                bearing=degrees,
            ),
        )
    yield _("Elevation"), _both(shown, "altitude", site.altitude_m)
    yield (
        _("Launch window"),
        _(
            "{first} to {last}; {first_local} to {last_local} local",
            first=_utc(launch - WINDOW_S),
            last=_utc(launch + WINDOW_S),
            first_local=_local(launch - WINDOW_S, flight),
            last_local=_local(launch + WINDOW_S, flight),
        ),
    )
    yield _("Number of balloons"), "1"
    yield (
        _("Balloon at launch"),
        _(
            "{size} across, {mass}, {gas}",
            size=shown.text("across", lift.diameter_m),
            mass=shown.text("mass", flight.balloon.mass_kg),
            gas=flight.gas.called,
        ),
    )
    yield (
        _("Suspension"),
        _(
            "{length} from the neck to the last package",
            length=shown.text("length", flight.string_m),
        ),
    )
    hangs = [(piece.name, piece.mass_kg) for piece in flight.package]
    if flight.parachute.mass_kg:
        hangs.append((_("parachute"), flight.parachute.mass_kg))
    packages = ", ".join(f"{name} {shown.text('mass', mass)}" for name, mass in hangs)
    yield (
        _("Payload"),
        _(
            "{mass} in all: {packages}",
            mass=shown.text("mass", flight.payload_kg),
            packages=packages,
        ),
    )
    yield _("Ascent"), _both(shown, "rate", plan.ascent_rate_ms.value)
    through = course.reaches(FL600_M)
    if through is None:
        yield _("60,000 ft (FL600)"), _("not reached")
    else:
        after, lat, lon = through
        place = f"{lat:.3f}, {lon:.3f}"
        yield (
            _("60,000 ft (FL600)"),
            _(
                "{when}, near {place}, going up",
                when=_utc(launch + after),
                place=place,
            ),
        )
    burst = plan.burst_altitude_m
    yield (
        _("Highest point"),
        f"{_both(shown, 'height', burst.value)}, {shown.span('height', burst.low, burst.high)}",
    )
    yield _("Expected course"), "; ".join(_course(course, launch))
    landing = forecast.landing
    place = f"{landing.latitude_deg:.3f}, {landing.longitude_deg:.3f}"
    yield (
        _("Expected landing"),
        _(
            "{when} ({early} to {late}), {place}, within {radius} NM (90 %)",
            when=_utc(landing.eta_utc),
            early=_utc(landing.eta_90_utc[0]),
            late=_utc(landing.eta_90_utc[1]),
            place=place,
            radius=number(landing.radius_90_m / NAUTICAL_MILE_M),
        ),
    )
    yield (
        _("Duration"),
        _("{minutes} min", minutes=number((landing.eta_utc - launch) / 60.0)),
    )


def _both(shown: Shown, kind: str, value: float) -> str:
    """In the person's units, and in the others: aviation counts in feet, some forms in metres."""
    other = METRIC if shown.units is Units.IMPERIAL else Shown(Units.IMPERIAL)
    return f"{shown.text(kind, value)} ({other.text(kind, value)})"


def notice_text(lines: Iterator[tuple[str, str]]) -> str:
    """As plain text."""
    draft = _(DRAFT)
    return "\n".join([draft, "", *(f"{name + ':':20} {text}" for name, text in lines), "", draft])


def notice_html(name: str, lines: Iterator[tuple[str, str]]) -> str:
    """To be printed."""
    page = templates("groundstation.planning").get_template("notice.html")
    return page.render(name=name, draft=_(DRAFT), lines=lines)


def _course(course: Course, launch_utc: float) -> Iterator[str]:
    """Every 20 minutes."""
    step = 1_200.0
    for n in range(1, int(course.time_s[-1] // step) + 1):
        at = int(course.time_s.searchsorted(n * step))
        place = f"{course.latitude_deg[at]:.2f}, {course.longitude_deg[at]:.2f}"
        feet = course.altitude_m[at] / FOOT_M
        yield _(
            "{time} {place} at {height} ft",
            time=_clock(launch_utc + n * step),
            place=place,
            height=number(round(feet, -3)),
        )


def _degrees(site: SiteSettings) -> str:
    return f"{site.latitude_deg:.5f}, {site.longitude_deg:.5f}"


def _moment(time_utc: float) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=round(time_utc))


def _utc(time_utc: float) -> str:
    moment = _moment(time_utc)
    return f"{day_text(moment)} {moment:%H:%M} UTC"


def _clock(time_utc: float) -> str:
    return _moment(time_utc).strftime("%H:%M")


def _local(time_utc: float, flight: FlightFile) -> str:
    return _moment(time_utc).astimezone(ZoneInfo(flight.zone)).strftime("%H:%M")
