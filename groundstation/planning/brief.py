"""The launch-day brief: one page to print or to look at, without anything from elsewhere."""

from collections.abc import Iterator, Sequence
from importlib import resources

from markupsafe import Markup

from groundstation.html.templates import templates
from groundstation.language.catalogue import _, pgettext
from groundstation.physics.geodesy import compass, distance_bearing
from groundstation.planning.brief_pictures import Area, Ground, picture, wind_picture
from groundstation.planning.checklist import CHECKLIST, cautions
from groundstation.planning.course import Course
from groundstation.planning.decision import Weighed, word
from groundstation.planning.forecast import Forecast
from groundstation.planning.launch_time import launch_text
from groundstation.planning.settings import FlightFile
from groundstation.planning.spread import SPANS, Plan
from groundstation.planning.sun import LONGEST_S, daylight_left_s, daylight_text
from groundstation.records import NamedPlace
from groundstation.search.spoken_places import degrees_minutes


def brief_html(
    flight: FlightFile,
    plan: Plan,
    forecast: Forecast,
    course: Course,
    limits: tuple[Weighed, ...],
    areas: Sequence[Area],
    notes: Sequence[str],
    caution: str,
    *,
    fouled: Course | None = None,
    others: Sequence[str] = (),
    keep_outs: str = "",
    towns: Sequence[NamedPlace] = (),
    around: Sequence[NamedPlace] = (),
    ground: Ground | None = None,
) -> str:
    """``towns`` are near the landing, ``around`` and ``ground`` what is shown on the map,
    ``areas`` are keep-outs, ``keep_outs`` what was made of their file, ``notes`` the warnings;
    ``fouled`` is the way under a canopy that did not open, ``others`` are other hours and sites in
    words."""
    page = templates("groundstation.planning").get_template("brief.html")
    return page.render(
        flight=flight,
        style=Markup(_style()),
        word=_(word(limits).value),
        limits=limits,
        facts=list(_facts(flight, plan, forecast, course, areas, fouled, towns)),
        figures=_figures(flight, plan),
        spans=_(SPANS),
        picture=picture(flight, forecast, course, areas, fouled, around, ground),
        winds=wind_picture(flight, course),
        basis=forecast.basis,
        keep_outs=keep_outs,
        others=others,
        notes=notes,
        cautions=list(cautions(flight, plan)),
        checklist=CHECKLIST,
        caution=caution,
    )


def _style() -> str:
    return (resources.files("groundstation") / "resources" / "brief.css").read_text("utf-8")


def _facts(
    flight: FlightFile,
    plan: Plan,
    forecast: Forecast,
    course: Course,
    areas: Sequence[Area],
    fouled: Course | None,
    towns: Sequence[NamedPlace],
) -> Iterator[tuple[str, str]]:
    """The flight itself: when, where, how far, and the sun."""
    landing, shown, launch = forecast.landing, flight.shown, forecast.launch_utc
    site = flight.site
    yield (
        pgettext("of a plan", "let go"),
        f"{launch_text(launch, flight.zone)}, {site.name}:"
        f" {degrees_minutes(site.latitude_deg, site.longitude_deg)}",
    )
    burst_utc = launch + float(course.time_s[course.top])
    yield (
        _("bursts"),
        _(
            "{when}, at about {height}",
            when=launch_text(burst_utc, flight.zone),
            height=shown.text("height", float(course.altitude_m[course.top])),
        ),
    )
    early, late = landing.eta_90_utc
    yield (
        _("comes down"),
        _(
            "{when}, nine of ten {early} to {late}",
            when=launch_text(landing.eta_utc, flight.zone),
            early=launch_text(early, flight.zone),
            late=launch_text(late, flight.zone),
        ),
    )
    yield (
        _("where"),
        f"{landing.latitude_deg:.5f}, {landing.longitude_deg:.5f};"
        f" {degrees_minutes(landing.latitude_deg, landing.longitude_deg)}; "
        + _(
            "within {half} (half), {most} (nine of ten)",
            half=shown.text("distance", landing.radius_50_m),
            most=shown.text("distance", landing.radius_90_m),
        ),
    )
    yield (
        _("that is"),
        "; ".join(_near(flight, landing.latitude_deg, landing.longitude_deg, areas, towns)),
    )
    left = daylight_left_s(landing.latitude_deg, landing.longitude_deg, landing.eta_utc)
    light = daylight_text(landing.latitude_deg, landing.longitude_deg, landing.eta_utc)
    if 0.0 < left < LONGEST_S:
        light = _(
            "{span} of daylight left; sunset {when}",
            span=light,
            when=launch_text(landing.eta_utc + left, flight.zone),
        )
    yield _("sun there"), light
    if fouled is not None:
        after, lat, lon = fouled.end
        place = f"{lat:.5f}, {lon:.5f}"
        yield (
            _(plan.fouled.name),
            _(
                "{when}, {place}, at {rate} ({chance})",
                when=launch_text(launch + after, flight.zone),
                place=place,
                rate=shown.span("rate", *plan.fouled.rate_ms),
                chance=plan.fouled.chance_text,
            ),
        )


def _near(
    flight: FlightFile,
    latitude_deg: float,
    longitude_deg: float,
    areas: Sequence[Area],
    towns: Sequence[NamedPlace],
) -> Iterator[str]:
    """From a town and the site, and from what else has a name, the nearest first."""
    named = [(town.name, town.latitude_deg, town.longitude_deg) for town in towns]
    named.append((flight.site.name, flight.site.latitude_deg, flight.site.longitude_deg))
    others = [
        (candidate.name, candidate.latitude_deg, candidate.longitude_deg)
        for candidate in flight.candidate
    ]
    if flight.reference is not None:
        reference = flight.reference
        others.append((reference.name, reference.latitude_deg, reference.longitude_deg))
    others += [
        (_(name), float(parts[0][:, 1].mean()), float(parts[0][:, 0].mean()))
        for name, parts, _half_width_m in areas
    ]
    others.sort(
        key=lambda place: distance_bearing(place[1], place[2], latitude_deg, longitude_deg)[0]
    )
    for name, lat, lon in (*named, *others[:2]):
        away, bearing = distance_bearing(lat, lon, latitude_deg, longitude_deg)
        yield _(
            "{distance} {way} of {name}",
            distance=flight.shown.text("away", away),
            way=_(compass(bearing)),
            name=name,
        )


def _figures(flight: FlightFile, plan: Plan) -> Iterator[tuple[str, str]]:
    lift, shown = plan.lift, flight.shown
    yield _("neck lift to weigh"), shown.text("mass", lift.neck_kg)
    size = shown.text("size", lift.diameter_m)
    yield (
        _("gas"),
        _("{volume}, {size} across", volume=shown.text("volume", lift.volume_m3), size=size),
    )
    for name, spread, kind in (
        (_("ascent"), plan.ascent_rate_ms, "rate"),
        (_("burst height"), plan.burst_altitude_m, "height"),
        (_("climb"), plan.climb_s, "minutes"),
        (_("fall at the ground"), plan.descent_rate_ms, "rate"),
        (_("impact"), plan.impact_j, "energy"),
    ):
        span = shown.span(kind, spread.low, spread.high)
        yield name, f"{shown.text(kind, spread.value)} ({span})"
    for case in (plan.fouled, plan.bare):
        rate, energy = shown.span("rate", *case.rate_ms), shown.span("energy", *case.impact_j)
        yield _(case.name), f"{rate}, {energy} ({case.chance_text})"
