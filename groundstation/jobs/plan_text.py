"""A plan as text and as JSON."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

from groundstation.alerts.quantities import compass_text, position_text, span_text
from groundstation.jobs.plan import Worked, kept_out_of, weighed_of
from groundstation.jsonout import JsonObject, iso_utc, landing_json, metres, number
from groundstation.physics.geodesy import distance_bearing
from groundstation.planning import rules
from groundstation.planning.brief import CHECKLIST
from groundstation.planning.decision import daylight_s, word
from groundstation.planning.forecast import Forecast
from groundstation.planning.settings import SiteSettings
from groundstation.planning.spread import Spread
from groundstation.planning.warnings import warnings


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


def _ranked(worked: Worked) -> list[tuple[float, float, SiteSettings, Forecast]]:
    """Sites by the chance of a keep-out, then by how far one drives as the crow flies."""
    found = []
    for site, one in worked.sites:
        landing = one.landing
        away, _ = distance_bearing(
            site.latitude_deg, site.longitude_deg, landing.latitude_deg, landing.longitude_deg
        )
        out = sum(share for _, share in kept_out_of(worked, one))
        found.append((round(out, 2), away, site, one))
    return sorted(found, key=lambda one: one[:2])


def _lines(worked: Worked) -> Iterator[str]:
    flight, plan = worked.flight, worked.plan
    lift = plan.lift
    gas = flight.gas.kind.value
    under = f"under a balloon of {flight.balloon.mass_kg:g} kg"
    yield f"{flight.name}: {flight.payload_kg:.2f} kg {under}"
    yield ""
    yield "Fill"
    yield f"  {gas:22} {lift.volume_m3:.2f} m³ at the site, {lift.diameter_m:.2f} m across"
    yield f"  neck lift to weigh     {lift.neck_kg:.2f} kg"
    yield f"  free lift              {lift.free_kg:.2f} kg"
    if worked.used_pa is not None:
        yield f"  from the cylinder      {worked.used_pa / 1e5:.0f} bar"
    if worked.short:
        yield f"  from the cylinder      {worked.short}"
    yield ""
    yield "Flight                   (nine tenths of such flights; what drives it)"
    yield _row("ascent rate", plan.ascent_rate_ms, lambda v: f"{v:.1f}", "m/s")
    yield _row("burst", plan.burst_altitude_m, lambda v: f"{v / 1000.0:.1f}", "km")
    yield _row("time to the burst", plan.climb_s, lambda v: f"{v / 60.0:.0f}", "min")
    yield _row("fall at the ground", plan.descent_rate_ms, lambda v: f"{v:.1f}", "m/s")
    yield _row("impact", plan.impact_j, lambda v: f"{v:.0f}", "J")
    if worked.learned:
        first, *rest = worked.learned
        yield ""
        yield first
        yield from (f"  {text}" for text in rest)
    yield from _landing_lines(worked)
    if worked.aloft is not None:
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
    for one in (*rules.united_states(flight), *rules.europe(flight)):
        yield f"  {_threshold(one)}"
    yield from (f"  {text}" for text in rules.what_follows(flight))
    yield f"  {rules.CAUTION}"


def _landing_lines(worked: Worked) -> Iterator[str]:
    flight = worked.flight
    for n, one in enumerate(worked.forecasts):
        landing = one.landing
        away, bearing = distance_bearing(
            flight.site.latitude_deg, flight.site.longitude_deg,
            landing.latitude_deg, landing.longitude_deg,
        )  # fmt: skip
        if n == 0:
            yield ""
            yield "Landing"
        flown = landing.eta_utc - one.launch_utc
        place = position_text(landing.latitude_deg, landing.longitude_deg)
        yield (
            f"  let go {_clock(one.launch_utc)}  {place}"
            f"  {away / 1000.0:.0f} km {compass_text(bearing)}, after {span_text(flown)};"
            f" within {landing.radius_50_m / 1000.0:.0f} km (50 %),"
            f" {landing.radius_90_m / 1000.0:.0f} km (90 %)"
        )
        for name, share in kept_out_of(worked, one):
            yield f"      in {name}: {100.0 * share:.0f} %"
    if worked.forecasts:
        if worked.asked_hours >= len(worked.forecasts):
            yield "  The winds do not reach further."
        first = worked.forecasts[0]
        yield f"  {first.basis}"
        if flight.landing is None:
            yield "  Put into the flight file, for a station to hold the flight against it:"
            yield "    [landing]"
            yield f"    latitude_deg = {first.landing.latitude_deg:.5f}"
            yield f"    longitude_deg = {first.landing.longitude_deg:.5f}"
            yield f"    radius_90_m = {first.landing.radius_90_m:.0f}"
    best = min(
        worked.forecasts[1:] and worked.forecasts,
        key=lambda one: (
            sum(share for _, share in kept_out_of(worked, one)),
            one.landing.radius_90_m,
        ),
        default=None,
    )
    if best is not None:
        yield f"  least in keep-outs, then surest: let go {_clock(best.launch_utc)}"
    for n, (out, away, site, one) in enumerate(_ranked(worked), 1):
        if n == 1:
            yield ""
            yield "Sites, the best first (chance of a keep-out, then drift, and daylight left)"
        light = daylight_s(one) / 3600.0
        yield (
            f"  {n}. {site.name}: {100.0 * out:.0f} %, {away / 1000.0:.0f} km,"
            f" {'after sunset' if light <= 0.0 else f'{light:.1f} h'}"
        )


def _clock(time_utc: float) -> str:
    return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=time_utc)).strftime(
        "%Y-%m-%d %H:%M UTC"
    )


def _row(name: str, spread: Spread, text: Any, unit: str) -> str:
    by = ", ".join(what for what, _ in spread.by)
    span = f"({text(spread.low)} to {text(spread.high)}{'; ' + by if by else ''})"
    return f"  {name:22} {text(spread.value)} {unit:4} {span}"


def _threshold(one: rules.Finding) -> str:
    value = "not given" if one.value is None else f"{one.value:.2f}"
    state = {True: "OVER", False: "below", None: "unknown"}[one.over]
    return f"{state:8} {one.what}: {value}, threshold {one.limit:.2f} {one.unit} ({one.source})"


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
        "learned": list(worked.learned),
        "landings": [
            landing_json(one.landing)
            | {"launch": iso_utc(one.launch_utc), "keep_out": dict(kept_out_of(worked, one))}
            for one in worked.forecasts
        ],
        "warnings": [*warnings(worked.flight, plan), *filter(None, [worked.short])],
        "rules": [
            {
                "source": one.source,
                "what": one.what,
                "value": number(one.value, 3),
                "threshold": number(one.limit, 3),
                "unit": one.unit,
                "over": one.over,
            }
            for one in (*rules.united_states(worked.flight), *rules.europe(worked.flight))
        ],
        "caution": rules.CAUTION,
    }


def _spread_json(spread: Spread) -> JsonObject:
    return {
        "value": number(spread.value, 3),
        "90": [number(spread.low, 3), number(spread.high, 3)],
        "by": {name: number(share, 2) for name, share in spread.by},
    }
