"""A plan as text and as JSON."""

import json
from collections.abc import Iterator

from groundstation.alerts.quantities import compass_text, position_text, span_text
from groundstation.jobs.plan import Flown, Worked, follows_of, kept_out_of, weighed_of
from groundstation.jsonout import JsonObject, degrees, iso_utc, metres, number
from groundstation.physics.geodesy import distance_bearing
from groundstation.planning import rules
from groundstation.planning.checklist import CHECKLIST, cautions
from groundstation.planning.decision import percent, word
from groundstation.planning.launch_time import launch_text
from groundstation.planning.readable_figures import Shown
from groundstation.planning.settings import FlightFile
from groundstation.planning.spread import SPANS, Spread
from groundstation.planning.sun import daylight_text
from groundstation.planning.warnings import warnings
from groundstation.schema.landing import landing_json
from groundstation.units import Units


def plan_text(worked: Worked, *, as_json: bool) -> str:
    """The whole answer."""
    if as_json:
        return json.dumps(_json(worked), ensure_ascii=False, allow_nan=False, indent=1)
    return "\n".join(_lines(worked))


def checklist_text() -> str:
    """For the day, as it stands in the brief."""
    lines = []
    for name, items in CHECKLIST:
        lines += [name, *(f"  [ ] {item}" for item in items)]
    return "\n".join(lines)


def _ranked(worked: Worked) -> list[tuple[float, float, Flown]]:
    """Sites by the chance of a keep-out, then by how far one drives as the crow flies."""
    found = []
    for candidate in worked.sites:
        landing = candidate.forecast.landing
        away, _ = distance_bearing(
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
    gas = flight.gas.kind.value
    under = f"under a balloon of {_balloon(flight)}"
    yield f"{flight.name}: {shown.text('mass', flight.payload_kg)} {under}"
    yield ""
    yield "Fill"
    yield (
        f"  {gas:22} {shown.text('volume', lift.volume_m3)} at the site,"
        f" {shown.text('size', lift.diameter_m)} across"
    )
    yield f"  neck lift to weigh     {shown.text('mass', lift.neck_kg)}"
    yield f"  free lift              {shown.text('mass', lift.free_kg)}"
    yield f"  air at the site        {_air(worked)}"
    if worked.used_pa is not None:
        yield f"  from the cylinder      {shown.text('pressure', worked.used_pa)}"
    if worked.short:
        yield f"  from the cylinder      {worked.short}"
    yield ""
    yield f"Flight                   ({SPANS}; what drives it)"
    yield _row(shown, "ascent rate", plan.ascent_rate_ms, "rate")
    yield _row(shown, "burst", plan.burst_altitude_m, "height")
    yield _row(shown, "time to the burst", plan.climb_s, "minutes")
    yield _row(shown, "fall at the ground", plan.descent_rate_ms, "rate")
    yield _row(shown, "impact", plan.impact_j, "energy")
    for case in (plan.fouled, plan.bare):
        yield (
            f"  {case.name:22} {shown.span('rate', *case.rate_ms)},"
            f" {shown.span('energy', *case.impact_j)} ({case.chance_text})"
        )
    if worked.learned:
        first, *rest = worked.learned
        yield ""
        yield first
        yield from (f"  {text}" for text in rest)
    yield from _landing_lines(worked)
    if worked.keep_outs is not None and not worked.launches:
        yield ""
        yield worked.keep_outs.summary
    yield from worked.notes
    if worked.launches:
        limits = weighed_of(worked)
        yield ""
        yield f"By your own limits: {word(limits).value}. You decide."
        for limit in limits:
            yield f"  {limit.word.name.lower():5} {limit.what}: {limit.seen}; set {limit.limit}"
    marginal = list(warnings(flight, plan))
    if marginal:
        yield ""
        yield "Look at"
        yield from (f"  - {text}" for text in marginal)
    yield ""
    yield "Thresholds of rules"
    every = (*rules.united_states(flight), *rules.equipment(flight), *rules.europe(flight))
    for finding in every:
        if finding.applies:
            yield f"  {_threshold(shown, finding)}"
    apart = [f"{finding.what} ({finding.source})" for finding in every if not finding.applies]
    if apart:
        yield f"  not about this flight: {'; '.join(apart)}"
    yield from (f"  {text}" for text in follows_of(worked))
    yield f"  {rules.CAUTION}"
    yield ""
    yield "Keep people from harm (the whole list: --checklist)"
    yield from (f"  - {text}" for text in cautions(flight, plan))


def _balloon(flight: FlightFile) -> str:
    if flight.shown.units is Units.IMPERIAL:
        return flight.shown.text("mass", flight.balloon.mass_kg)
    return f"{flight.balloon.mass_kg:g} kg"


def _air(worked: Worked) -> str:
    """Its pressure and where that comes from, and its temperature."""
    site, air, shown = worked.flight.site, worked.plan.balloon.air, worked.flight.shown
    basis = "of the standard atmosphere"
    if site.pressure_pa is not None:
        basis = "as given"
    elif site.sea_level_pressure_pa is not None:
        sea = shown.text("air", site.sea_level_pressure_pa)
        basis = f"reduced from {sea} at sea level"
    degrees = f"{float(shown.degrees(air.temperature_k)):.0f} {shown.degrees_unit}"
    usual = "" if site.temperature_k is not None else ", as usual"
    return f"{shown.text('air', air.pressure_pa)} ({basis}), {degrees}{usual}"


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
            yield "Landing"
        flown = landing.eta_utc - launch.forecast.launch_utc
        place = position_text(landing.latitude_deg, landing.longitude_deg)
        yield (
            f"  let go {launch_text(launch.forecast.launch_utc, flight.zone)}  {place}"
            f"  {shown.text('distance', away)} {compass_text(bearing)}, after {span_text(flown)};"
            f" within {shown.text('distance', landing.radius_50_m)} (50 %),"
            f" {shown.text('distance', landing.radius_90_m)} (90 %)"
        )
        if n == 0 and worked.town is not None:
            town = worked.town
            away, bearing = distance_bearing(
                town.latitude_deg, town.longitude_deg, landing.latitude_deg, landing.longitude_deg
            )
            yield f"      {shown.text('away', away)} {compass_text(bearing)} of {town.name}"
        shares = kept_out_of(worked, launch.forecast)
        for name, share in () if shares is None else shares.each.items():
            yield f"      in {name}: {percent(share)}"
    if worked.keep_outs is not None and worked.launches:
        yield f"  {worked.keep_outs.summary}"
    if worked.launches:
        if worked.asked_hours >= len(worked.launches):
            yield "  The winds do not reach further."
        first = worked.launches[0]
        after, lat, lon = first.course.end
        yield (
            f"  without any spread: {position_text(lat, lon)}, after {span_text(after)}"
            " (planned rates and burst, winds along the way)"
        )
        if first.fouled is not None:
            after, lat, lon = first.fouled.end
            fouled = shown.text("rate", plan.fouled.middle_ms)
            yield (
                f"  if the canopy fouls, at {fouled}: {position_text(lat, lon)}, after"
                f" {span_text(after)} ({plan.fouled.chance_text}; not in the circles above)"
            )
        yield f"  {first.forecast.basis}"
        if flight.landing is None:
            landing = first.forecast.landing
            yield "  Put into the flight file, for a station to hold the flight against it:"
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
        let_go = launch_text(best.forecast.launch_utc, flight.zone)
        yield f"  least in keep-outs, then surest: let go {let_go}"
    for n, (out, away, candidate) in enumerate(_ranked(worked), 1):
        if n == 1:
            yield ""
            yield "Sites, the best first (chance of a keep-out, then drift, and daylight left)"
        landing = candidate.forecast.landing
        light = daylight_text(landing.latitude_deg, landing.longitude_deg, landing.eta_utc)
        distance = shown.text("distance", away)
        yield f"  {n}. {candidate.site.name}: {percent(out)}, {distance}, {light}"


def _row(shown: Shown, name: str, spread: Spread, kind: str) -> str:
    by = ", ".join(what for what, _ in spread.by)
    low, high = shown.number(kind, spread.low), shown.number(kind, spread.high)
    span = f"({low} to {high}{'; ' + by if by else ''})"
    return f"  {name:22} {shown.text(kind, spread.value):8} {span}"


def _threshold(shown: Shown, finding: rules.Finding) -> str:
    value = "not given" if finding.value is None else shown.number(finding.kind, finding.value)
    state = {True: "OVER", False: "below", None: "unknown"}[finding.over]
    return (
        f"{state:8} {finding.what}: {value}, threshold {shown.text(finding.kind, finding.limit)}"
        f" ({finding.source}, {finding.edition})"
    )


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
