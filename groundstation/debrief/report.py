"""The report of a flight: one HTML file that needs nothing else."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from importlib import resources

from markupsafe import Markup

from groundstation.debrief.drawing import Drawing, span_of
from groundstation.debrief.figures import (
    Error,
    Figures,
    ending,
    errors,
    figures,
    track_of,
)
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.heard_section import heard_html
from groundstation.debrief.log_section import log_html
from groundstation.debrief.own_log import OwnLog
from groundstation.debrief.silences import Silence, silences
from groundstation.debrief.touchdown import came_down
from groundstation.debrief.track_drawings import drawn
from groundstation.debrief.words import PLAIN, Telling
from groundstation.flight.settings import PlanSettings
from groundstation.flight.sighting_kinds import in_words
from groundstation.flight.sightings import FromPlace
from groundstation.html.templates import templates
from groundstation.language.catalogue import _, pgettext
from groundstation.language.numbers import number
from groundstation.physics.geodesy import distance_bearing
from groundstation.planning.readable_figures import Shown
from groundstation.records import Landing


def report_html(
    flight: FlightLog,
    plan: PlanSettings | None = None,
    own: OwnLog | None = None,
    again: Sequence[Landing] = (),
    quiet: Sequence[Silence] | None = None,
    next_time: Sequence[str] = (),
    lesson: str = "",
    telling: Telling = PLAIN,
) -> str:
    """The whole page. ``plan`` is what was expected, to be held beside it; ``own`` the payload's
    log and ``again`` the estimates that were made from it. ``quiet`` are the silences, explained
    without base and trackers where they are not given; ``next_time`` what the flight taught,
    ``lesson`` that as it is kept; ``telling`` the station's time zone and units."""
    track = track_of(flight) if own is None else own.track
    lay = None if own is None else own.end
    known, off = figures(flight, track), list(errors(flight, lay))
    if own is not None and own.touchdown_ms is not None:
        known = replace(known, touchdown_ms=own.touchdown_ms)
    style = (resources.files("groundstation") / "resources" / "report.css").read_text("utf-8")
    log = None
    if own is not None:
        off_again = list(errors(replace(flight, landings=tuple(again)), lay))
        log = log_html(own, flight.launch_utc, off_again, telling.shown)
    beside = None
    if plan is not None:
        beside = list(_beside(known, plan, ending(flight) or lay, telling.shown))
    page = templates("groundstation.debrief").get_template("report.html")
    return page.render(
        flight=flight,
        day=telling.day(flight.launch_utc),
        telling=telling,
        lesson=lesson,
        style=Markup(style),
        told=_told(flight),
        ended=_ended(flight, telling),
        facts=_facts(flight, known, telling),
        drawn=None if track is None else drawn(flight, track, plan, telling.shown),
        beside=beside,
        estimates=_estimates(flight, off, telling) if off else None,
        log=log,
        heard=heard_html(
            flight, list(silences(flight, shown=telling.shown)) if quiet is None else quiet, telling
        ),
        seen=list(_seen(flight, telling)),
        alerts=list(_alerts(flight, telling)),
        delivered=any(message.delay_s is not None for message in flight.messages),
        next_time=next_time,
    )


def _facts(flight: FlightLog, known: Figures, telling: Telling) -> Iterator[tuple[str, str]]:
    shown = telling.shown
    yield (_("launch"), telling.clock(flight.launch_utc))
    launch = next((fix for fix in flight.fixes if fix.time_utc >= flight.launch_utc), None)
    ended = ending(flight)
    for name, place in (
        (_("launched"), None if launch is None else (launch.latitude_deg, launch.longitude_deg)),
        (_("found") if flight.found is not None else _("landed"), ended),
    ):
        if place is not None and (near := telling.near(*place)):
            yield (name, near)
    if flight.burst_utc is not None:
        yield (_("burst"), telling.clock(flight.burst_utc))
    if known.highest_m is not None:
        yield (_("highest"), shown.text("altitude", known.highest_m))
    down = came_down(flight)
    if down is not None:
        yield (_("came down"), down.words(telling))
    aloft = _("in the air") if down is not None else _("heard in the air")
    yield (aloft, shown.text("minutes", known.duration_s))
    yield (_("from the launch"), shown.text("away", known.distance_m))
    for name, rate, sd in (
        (_("ascent"), known.ascent_rate_ms, known.ascent_rate_sd_ms),
        (_("fall at sea level"), known.descent_rate_ms, known.descent_rate_sd_ms),
    ):
        if rate is not None:
            yield (name, shown.give_or_take("rate", rate, sd or 0.0))
    if known.touchdown_ms is not None:
        yield (_("at the ground, about"), shown.text("rate", known.touchdown_ms))
    yield (_("fixes"), number(known.fixes))
    yield (_("outcome"), flight.outcome_in(_))


def _beside(
    known: Figures, plan: PlanSettings, end: tuple[float, float] | None, shown: Shown
) -> Iterator[tuple[str, str, str, str]]:
    """What it is, as planned, as flown, and a word on it."""
    for name, flown, wanted, sd, kind in (
        (_("ascent"), known.ascent_rate_ms, plan.ascent_rate_ms, plan.ascent_rate_sd_ms, "rate"),
        (_("highest"), known.highest_m, plan.burst_altitude_m, plan.burst_altitude_sd_m, "height"),
        (_("fall at sea level"), known.descent_rate_ms, plan.descent_rate_ms,
         plan.descent_rate_sd_ms, "rate"),
    ):  # fmt: skip
        if flown is None or wanted is None:
            continue
        sds = (flown - wanted) / sd
        word = _("as planned")
        if abs(sds) > 1.65:
            word = _("more than planned") if sds > 0.0 else _("less than planned")
        yield name, shown.give_or_take(kind, wanted, sd), shown.text(kind, flown), word
    if plan.landing is not None and end is not None:
        away, bearing = distance_bearing(
            plan.landing.latitude_deg, plan.landing.longitude_deg, *end
        )
        within = away <= plan.landing.radius_90_m
        yield (
            pgettext("the place", "landing"),
            _("within {radius} (90 %)", radius=shown.text("away", plan.landing.radius_90_m)),
            _(
                "{distance} from it, towards {bearing}°",
                distance=shown.text("away", away),
                bearing=round(bearing),
            ),
            _("as planned") if within else _("elsewhere than planned"),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Estimates:
    """How good the estimates were, as text."""

    drawn: Markup
    judged: str
    rows: list[tuple[str, str, str, str]]


def _estimates(flight: FlightLog, off: list[Error], telling: Telling) -> _Estimates:
    minutes = [(miss.time_utc - flight.launch_utc) / 60.0 for miss in off]
    shown = telling.shown
    away = shown.values("away", [miss.off_m for miss in off])
    radius = shown.values("away", [miss.radius_90_m for miss in off])
    drawing = Drawing(
        _("How far the point was off (blue), and the radius that should hold nine tenths (brown)"),
        span_of(minutes), span_of(away, radius, [0.0]), _("minutes after the launch"),
        shown.unit("away"),
    )  # fmt: skip
    drawing.line(minutes, radius, "other")
    drawing.line(minutes, away, "way")
    return _Estimates(
        drawn=drawing.svg(),
        judged=_judged(flight, off),
        rows=[
            (
                telling.clock(miss.time_utc),
                shown.text("away", miss.off_m),
                _held(miss.in_50, miss.radius_50_m, telling),
                _held(miss.in_90, miss.radius_90_m, telling),
            )
            for miss in off[:: max(1, len(off) // 12)]
        ],
    )


def _held(inside: bool, radius_m: float, telling: Telling) -> str:
    radius = telling.shown.text("away", radius_m)
    return _("inside, {radius}", radius=radius) if inside else _("outside, {radius}", radius=radius)


def _alerts(flight: FlightLog, telling: Telling) -> Iterator[tuple[str, str, str]]:
    """When raised, what it said, and when it was delivered."""
    for message in flight.messages:
        late = (
            _("not delivered")
            if message.delay_s is None
            else _("{seconds} s later", seconds=round(max(message.delay_s, 0.0)))
        )
        yield telling.clock(message.time_utc), message.title, late


def _seen(flight: FlightLog, telling: Telling) -> Iterator[tuple[str, str, str, str]]:
    """When, what, from where, and by whom; what was taken back says so."""
    for sighting, gone in flight.seen:
        what = in_words(sighting, _) + (f". {sighting.note}" if sighting.note else "")
        place = ""
        if isinstance(sighting, FromPlace):
            place = f"{sighting.latitude_deg:.5f}, {sighting.longitude_deg:.5f}"
        if gone:
            what = _("{what} (taken back)", what=what)
        yield telling.clock(sighting.at_utc), what, place, sighting.who


def _judged(flight: FlightLog, off: list[Error]) -> str:
    """How many of them held the place, and which place that is."""
    inside = f"{100.0 * sum(miss.in_90 for miss in off) / len(off):.0f}"
    if flight.found:
        return _(
            "Of {count} estimates {percent} % had the place where it was found in their 90 %"
            " region.",
            count=len(off), percent=inside,
        )  # fmt: skip
    if flight.landed_utc is not None:
        return _(
            "Of {count} estimates {percent} % had the place where it was last heard on the ground"
            " in their 90 % region.",
            count=len(off), percent=inside,
        )  # fmt: skip
    return _(
        "Of {count} estimates {percent} % had the place where it came down by its last fixes in"
        " their 90 % region.",
        count=len(off), percent=inside,
    )  # fmt: skip


def _ended(flight: FlightLog, telling: Telling) -> str:
    """How its end is known."""
    down = came_down(flight)
    if down is None:
        return _("When it came down is not known: too little of its fall was heard.")
    ended = _("It came down {when}, {basis}.", when=down.words(telling), basis=down.basis(telling))
    if flight.found is not None or flight.landed_utc is not None:
        return ended
    if down.place is None:
        place = _("Where it lies is not known.")
    else:
        radius = telling.shown.text("away", down.radius_m)
        place = _("Where it lies is told to {radius} by that.", radius=radius)
    return f"{ended} {place}"


def _told(flight: FlightLog) -> str:
    if flight.found is None:
        return ""
    found = flight.found
    if found.note and found.who:
        return _("Told by {who}: {note}", who=found.who, note=found.note)
    return found.note
