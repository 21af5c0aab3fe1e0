"""A plan as text and as JSON."""

import json
from collections.abc import Iterator
from dataclasses import replace

from groundstation.alerts.quantities import compass_text, position_text, span_text
from groundstation.jobs.plan import (
    PlanRequest,
    Worked,
    follows_of,
    kept_out_of,
    weighed_of,
    work,
)
from groundstation.jobs.plan_launches import Flown
from groundstation.jsonout import JsonObject, degrees, iso_utc, metres, number
from groundstation.language.catalogue import SOURCE, _, speaking
from groundstation.language.numbers import marked
from groundstation.physics.geodesy import distance_bearing
from groundstation.planning import rules
from groundstation.planning.checklist import CHECKLIST, cautions
from groundstation.planning.decision import Word, percent, word
from groundstation.planning.launch_time import launch_text
from groundstation.planning.readable_figures import Shown
from groundstation.planning.settings import FlightFile
from groundstation.planning.spread import SPANS, Spread
from groundstation.planning.sun import daylight_text
from groundstation.planning.warnings import warnings
from groundstation.schema.landing import landing_json
from groundstation.units import Units


def plan_json(request: PlanRequest, worked: Worked) -> str:
    """The whole answer for programs, in English."""
    if worked.language != SOURCE:
        worked = work(replace(request, language=SOURCE, fetch=False))
    return json.dumps(_json(worked), ensure_ascii=False, allow_nan=False, indent=1)


def plan_text(worked: Worked, *, checklist: bool = False) -> str:
    """The whole answer, and the checklist for the day where it is wanted."""
    with speaking(worked.language):
        return "\n".join((*_lines(worked), *(_checklist() if checklist else ())))


def _checklist() -> list[str]:
    """As it stands in the brief."""
    lines = [""]
    for name, items in CHECKLIST:
        lines += [_(name), *(f"  [ ] {_(item)}" for item in items)]
    return lines


def _ranked(worked: Worked) -> list[tuple[float, float, Flown]]:
    """Sites by the chance of a keep-out, then by how far one drives as the crow flies."""
    found = []
    for candidate in worked.sites:
        landing = candidate.forecast.landing
        away, _bearing = distance_bearing(
            candidate.site.latitude_deg, candidate.site.longitude_deg,
            landing.latitude_deg, landing.longitude_deg,
        )  # fmt: skip
        found.append((round(_out(worked, candidate), 2), away, candidate))
    return sorted(found, key=lambda ranked: ranked[:2])


def _out(worked: Worked, candidate: Flown) -> float:
    """How many of the members come down where they must not."""
    shares = kept_out_of(worked, candidate.forecast)
    return 0.0 if shares is None else shares.any


def _lines(worked: Worked) -> Iterator[str]:
    flight, plan = worked.flight, worked.plan
    lift, shown = plan.lift, flight.shown
    yield _(
        "{name}: {mass} under a balloon of {balloon}",
        name=flight.name, mass=shown.text("mass", flight.payload_kg), balloon=_balloon(flight),
    )  # fmt: skip
    yield ""
    yield _("Fill")
    fill = _(
        "{volume} at the site, {size} across",
        volume=shown.text("volume", lift.volume_m3), size=shown.text("size", lift.diameter_m),
    )  # fmt: skip
    yield _entry(flight.gas.called, fill)
    yield _entry(_("neck lift to weigh"), shown.text("mass", lift.neck_kg))
    yield _entry(_("free lift"), shown.text("mass", lift.free_kg))
    yield _entry(_("air at the site"), _air(worked))
    if worked.used_pa is not None:
        yield _entry(_("from the cylinder"), shown.text("pressure", worked.used_pa))
    if worked.short:
        yield _entry(_("from the cylinder"), worked.short)
    yield ""
    title, spans = _("Flight"), _("({spans}; what drives it)", spans=_(SPANS))
    yield f"{title:24} {spans}"
    yield _row(shown, _("ascent rate"), plan.ascent_rate_ms, "rate")
    yield _row(shown, _("burst height"), plan.burst_altitude_m, "height")
    yield _row(shown, _("time to the burst"), plan.climb_s, "minutes")
    yield _row(shown, _("fall at the ground"), plan.descent_rate_ms, "rate")
    yield _row(shown, _("impact"), plan.impact_j, "energy")
    for case in (plan.fouled, plan.bare):
        rate, energy = shown.span("rate", *case.rate_ms), shown.span("energy", *case.impact_j)
        yield _entry(_(case.name), f"{rate}, {energy} ({case.chance_text})")
    if worked.learned:
        first, *rest = worked.learned
        yield ""
        yield first
        yield from (f"  {text}" for text in rest)
    yield from _landing_lines(worked)
    if worked.keep_outs is not None and not worked.launches:
        yield ""
        yield worked.keep_outs.words
    yield from worked.notes
    if worked.launches:
        limits = weighed_of(worked)
        yield ""
        yield _("By your own limits: {word}. You decide.", word=_(word(limits).value))
        width = max(len(choice.short) for choice in Word)
        for limit in limits:
            what = _(
                "{what}: {seen}; set {limit}", what=limit.what, seen=limit.seen, limit=limit.limit
            )
            yield f"  {limit.word.short:{width}}  {what}"
    marginal = list(warnings(flight, plan))
    if marginal:
        yield ""
        yield _("Look at")
        yield from (f"  - {text}" for text in marginal)
    yield ""
    yield _("Thresholds of rules")
    every = (*rules.united_states(flight), *rules.equipment(flight), *rules.europe(flight))
    for finding in every:
        if finding.applies:
            yield f"  {_threshold(shown, finding)}"
    apart = [f"{_(finding.what)} ({finding.cited})" for finding in every if not finding.applies]
    if apart:
        others = _("not about this flight: {what}", what="; ".join(apart))
        yield f"  {others}"
    yield from (f"  {text}" for text in follows_of(worked))
    yield f"  {_(rules.CAUTION)}"
    yield ""
    yield _("Keep people from harm (the whole list: --checklist)")
    yield from (f"  - {text}" for text in cautions(flight, plan))


def _balloon(flight: FlightFile) -> str:
    if flight.shown.units is Units.IMPERIAL:
        return flight.shown.text("mass", flight.balloon.mass_kg)
    return f"{marked(f'{flight.balloon.mass_kg:g}')} kg"


def _air(worked: Worked) -> str:
    """Its pressure and where that comes from, and its temperature."""
    site, air, shown = worked.flight.site, worked.plan.balloon.air, worked.flight.shown
    basis = _("of the standard atmosphere")
    if site.pressure_pa is not None:
        basis = _("as given")
    elif site.sea_level_pressure_pa is not None:
        sea = shown.text("air", site.sea_level_pressure_pa)
        basis = _("reduced from {pressure} at sea level", pressure=sea)
    degrees = f"{float(shown.degrees(air.temperature_k)):.0f} {shown.degrees_unit}"
    if site.temperature_k is None:
        degrees = _("{degrees}, as usual", degrees=degrees)
    return f"{shown.text('air', air.pressure_pa)} ({basis}), {degrees}"


def _landing_lines(worked: Worked) -> Iterator[str]:
    flight, plan, shown = worked.flight, worked.plan, worked.flight.shown
    for n, launch in enumerate(worked.launches):
        landing = launch.forecast.landing
        away, bearing = distance_bearing(
            flight.site.latitude_deg, flight.site.longitude_deg,
            landing.latitude_deg, landing.longitude_deg,
        )  # fmt: skip
        if n == 0:
            yield ""
            yield _("Landing")
        flown = landing.eta_utc - launch.forecast.launch_utc
        place = position_text(landing.latitude_deg, landing.longitude_deg)
        let_go = _("let go {when}", when=launch_text(launch.forecast.launch_utc, flight.zone))
        reached = _(
            "{distance} {way}, after {span}; within {half} (50 %), {most} (90 %)",
            distance=shown.text("distance", away), way=compass_text(bearing),
            span=span_text(flown), half=shown.text("distance", landing.radius_50_m),
            most=shown.text("distance", landing.radius_90_m),
        )  # fmt: skip
        yield f"  {let_go}  {place}  {reached}"
        if n == 0 and worked.town is not None:
            town = worked.town
            away, bearing = distance_bearing(
                town.latitude_deg, town.longitude_deg, landing.latitude_deg, landing.longitude_deg
            )
            near = _(
                "{distance} {way} of {name}",
                distance=shown.text("away", away), way=compass_text(bearing), name=town.name,
            )  # fmt: skip
            yield f"      {near}"
        shares = kept_out_of(worked, launch.forecast)
        for name, share in () if shares is None else shares.each.items():
            chance = _("in {area}: {share}", area=_(name), share=percent(share))
            yield f"      {chance}"
    if worked.keep_outs is not None and worked.launches:
        yield f"  {worked.keep_outs.words}"
    if worked.launches:
        if worked.asked_hours >= len(worked.launches):
            ends = _("The winds do not reach further.")
            yield f"  {ends}"
        first = worked.launches[0]
        after, lat, lon = first.course.end
        middle = _(
            "without any spread: {place}, after {span} (planned rates and burst, winds along the"
            " way)",
            place=position_text(lat, lon), span=span_text(after),
        )  # fmt: skip
        yield f"  {middle}"
        if first.fouled is not None:
            after, lat, lon = first.fouled.end
            fouled = _(
                "if the canopy fouls, at {rate}: {place}, after {span} ({chance}; not in the"
                " circles above)",
                rate=shown.text("rate", plan.fouled.middle_ms), place=position_text(lat, lon),
                span=span_text(after), chance=plan.fouled.chance_text,
            )  # fmt: skip
            yield f"  {fouled}"
        yield f"  {first.forecast.basis}"
        if flight.landing is None:
            landing = first.forecast.landing
            put = _("Put into the flight file, for a station to hold the flight against it:")
            yield f"  {put}"
            yield "    [landing]"
            yield f"    latitude_deg = {landing.latitude_deg:.5f}"
            yield f"    longitude_deg = {landing.longitude_deg:.5f}"
            yield f"    radius_90_m = {landing.radius_90_m:.0f}"
    best = min(
        worked.launches[1:] and worked.launches,
        key=lambda launch: (_out(worked, launch), launch.forecast.landing.radius_90_m),
        default=None,
    )
    if best is not None:
        surest = _(
            "least in keep-outs, then surest: let go {when}",
            when=launch_text(best.forecast.launch_utc, flight.zone),
        )
        yield f"  {surest}"
    for n, (out, away, candidate) in enumerate(_ranked(worked), 1):
        if n == 1:
            yield ""
            yield _("Sites, the best first (chance of a keep-out, then drift, and daylight left)")
        landing = candidate.forecast.landing
        light = daylight_text(landing.latitude_deg, landing.longitude_deg, landing.eta_utc)
        distance = shown.text("distance", away)
        yield f"  {n}. {candidate.site.name}: {percent(out)}, {distance}, {light}"


def _row(shown: Shown, name: str, spread: Spread, kind: str) -> str:
    by = ", ".join(_(what) for what, _share in spread.by)
    low, high = shown.number(kind, spread.low), shown.number(kind, spread.high)
    span = _("{low} to {high}", low=low, high=high)
    return _entry(name, f"{shown.text(kind, spread.value):8} ({span}{'; ' + by if by else ''})")


def _entry(name: str, value: str) -> str:
    """A line of a table."""
    return f"  {name:22} {value}"


def _threshold(shown: Shown, finding: rules.Finding) -> str:
    value = _("not given") if finding.value is None else shown.number(finding.kind, finding.value)
    states = {True: _("OVER"), False: _("below"), None: _("unknown")}
    line = _(
        "{what}: {value}, threshold {limit} ({source}, {edition})",
        what=_(finding.what), value=value, limit=shown.text(finding.kind, finding.limit),
        source=finding.cited, edition=_(finding.edition),
    )  # fmt: skip
    return f"{states[finding.over]:{max(map(len, states.values()))}} {line}"


def _json(worked: Worked) -> JsonObject:
    plan, lift = worked.plan, worked.plan.lift
    return {
        "name": worked.flight.name,
        "payload_kg": number(worked.flight.payload_kg, 3),
        "gas": worked.flight.gas.kind.value,
        "volume_m3": number(lift.volume_m3, 3),
        "diameter_m": number(lift.diameter_m, 3),
        "neck_lift_kg": number(lift.neck_kg, 3),
        "free_lift_kg": number(lift.free_kg, 3),
        "cylinder_used_pa": metres(worked.used_pa),
        "ascent_rate_ms": _spread_json(plan.ascent_rate_ms),
        "burst_altitude_m": _spread_json(plan.burst_altitude_m),
        "climb_s": _spread_json(plan.climb_s),
        "descent_rate_ms": _spread_json(plan.descent_rate_ms),
        "impact_j": _spread_json(plan.impact_j),
        "cases": [
            {
                "name": case.name,
                "chance_assumed": case.chance,
                "descent_rate_ms": [number(rate_ms, 2) for rate_ms in case.rate_ms],
                "impact_j": [number(impact_j, 1) for impact_j in case.impact_j],
            }
            for case in (plan.fouled, plan.bare)
        ],
        "learned": list(worked.learned),
        "landings": [_launch_json(worked, launch) for launch in worked.launches],
        "keep_outs": None if worked.keep_outs is None else worked.keep_outs.summary,
        "notes": list(worked.notes),
        "warnings": [*warnings(worked.flight, plan), *filter(None, [worked.short])],
        "rules": [
            {
                "source": finding.source,
                "edition": finding.edition,
                "applies": finding.applies,
                "what": finding.what,
                "value": number(finding.value, 3),
                "threshold": number(finding.limit, 3),
                "unit": finding.unit,
                "over": finding.over,
            }
            for finding in (
                *rules.united_states(worked.flight),
                *rules.equipment(worked.flight),
                *rules.europe(worked.flight),
            )
        ],
        "follows": list(follows_of(worked)),
        "caution": rules.CAUTION,
        "cautions": list(cautions(worked.flight, plan)),
    }


def _launch_json(worked: Worked, launch: Flown) -> JsonObject:
    shares = kept_out_of(worked, launch.forecast)
    after, lat, lon = launch.course.end
    return landing_json(launch.forecast.landing) | {
        "launch": iso_utc(launch.forecast.launch_utc),
        "keep_out": {} if shares is None else dict(shares.each),
        "keep_out_any": None if shares is None else shares.any,
        "middle": {"lat": degrees(lat), "lon": degrees(lon), "after_s": number(after, 1)},
    }


def _spread_json(spread: Spread) -> JsonObject:
    return {
        "value": number(spread.value, 3),
        "90": [number(spread.low, 3), number(spread.high, 3)],
        "by": {name: number(share, 2) for name, share in spread.by},
    }
