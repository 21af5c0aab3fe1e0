"""What the plan command does: read the file, solve it, fly it, and say it."""

import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

from groundstation.alerts.quantities import compass_text, position_text, span_text
from groundstation.errors import ConfigurationError, OutOfModelRangeError
from groundstation.flight.settings import PlanSettings
from groundstation.hazards import Hazard, read_hazards
from groundstation.jsonout import JsonObject, iso_utc, landing_json, metres, number
from groundstation.physics.geodesy import distance_bearing
from groundstation.physics.wind import WindsAloft
from groundstation.planning import rules
from groundstation.planning.brief import brief_html
from groundstation.planning.course import course
from groundstation.planning.decision import Weighed, daylight_s, weighed, word
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import (
    Forecast,
    Winds,
    forecast,
    plan_settings,
    share_inside,
    winds_at,
)
from groundstation.planning.lift import pressure_used_pa
from groundstation.planning.notice import notice_html, notice_lines, notice_text
from groundstation.planning.past import PastFlight, narrowed, past_flights, told
from groundstation.planning.settings import FlightFile, SiteSettings
from groundstation.planning.spread import Plan, Spread, planned
from groundstation.planning.warnings import warnings
from groundstation.store.reader import Reader
from groundstation.weather.terrain import Tiles
from groundstation.weather.winds import read_all_winds

SWEEP_MEMBERS: Final = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRequest:
    """What was asked for on the command line."""

    flight: Path
    winds: tuple[Path, ...] = ()
    winds_sd_ms: float = 3.0
    launch: str | None = None
    hours: int | None = None
    keep_out: Path | None = None
    terrain: Path | None = None
    past: Path | None = None
    notice: Path | None = None
    brief: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Worked:
    flight: FlightFile
    plan: Plan
    used_pa: float | None
    short: str
    forecasts: tuple[Forecast, ...]
    sites: tuple[tuple[SiteSettings, Forecast], ...]
    keep_out: tuple[Hazard, ...]
    settings: PlanSettings
    learned: tuple[str, ...]
    asked_hours: int
    aloft: WindsAloft | None


def plan_text(request: PlanRequest, *, as_json: bool) -> str:
    """The whole answer. Raises ``GroundstationError`` for what can't be."""
    worked = _work(request)
    _write(request, worked)
    if as_json:
        return json.dumps(_json(worked), ensure_ascii=False, allow_nan=False, indent=1)
    return "\n".join(_lines(worked))


def _work(request: PlanRequest) -> _Worked:
    flight = read_flight(request.flight)
    plan = planned(flight)
    used_pa, short = None, ""
    if flight.cylinder is not None:
        try:
            used_pa = pressure_used_pa(
                flight.cylinder, plan.lift.volume_m3, flight.gas.kind, plan.balloon.air
            )
        except OutOfModelRangeError as error:
            short = str(error)
    expected = plan_settings(plan)
    past = () if request.past is None else tuple(_past(request.past, flight.name))
    settings = narrowed(expected, past)
    winds = _winds(request)
    launch_utc = _moment(request.launch or flight.launch) if winds else 0.0
    keep_out = () if request.keep_out is None else read_hazards(request.keep_out)
    return _Worked(
        flight=flight,
        plan=plan,
        used_pa=used_pa,
        short=short,
        settings=settings,
        asked_hours=request.hours or 0,
        learned=tuple(told(expected, settings, past)) if past else (),
        forecasts=tuple(_forecasts(request, flight, settings, winds, launch_utc)) if winds else (),
        sites=tuple(_sites(flight, settings, winds, launch_utc)) if winds else (),
        aloft=winds_at(winds, launch_utc) if winds else None,
        keep_out=tuple(one for one in keep_out if one.area),
    )


def _write(request: PlanRequest, worked: _Worked) -> None:
    """The notice and the page, where they are asked for."""
    if request.notice is None and request.brief is None:
        return
    if worked.aloft is None:
        raise ConfigurationError("a notice and a brief tell where it goes: give --winds")
    flight, plan, [first, *_] = worked.flight, worked.plan, worked.forecasts
    middle = course(flight.site, worked.settings, worked.aloft)
    if request.notice is not None:
        lines = notice_lines(flight, plan, first, middle)
        printed = request.notice.suffix in (".html", ".htm")
        text = notice_html(flight.name, lines) if printed else notice_text(lines) + "\n"
        request.notice.write_text(text, encoding="utf-8")
    if request.brief is not None:
        html = brief_html(
            flight,
            plan,
            first,
            middle,
            _weighed(worked),
            [(_name(one), one.parts) for one in worked.keep_out],
            list(warnings(flight, plan)),
            rules.CAUTION,
        )
        request.brief.write_text(html, encoding="utf-8")


def _weighed(worked: _Worked) -> tuple[Weighed, ...]:
    """The person's own limits, of the first launch."""
    assert worked.aloft is not None
    first = worked.forecasts[0]
    kept_out = {_name(one): share_inside(first.scatter, one.parts) for one in worked.keep_out}
    return weighed(worked.flight, first, worked.aloft, kept_out)


def _name(hazard: Hazard) -> str:
    return f"{hazard.kind} {hazard.name}".strip()


def _forecasts(
    request: PlanRequest,
    flight: FlightFile,
    settings: PlanSettings,
    winds: list[Winds],
    launch_utc: float,
) -> Iterator[Forecast]:
    terrain = None if request.terrain is None else Tiles(request.terrain)
    yield forecast(
        flight.name, flight.site, settings, winds_at(winds, launch_utc), launch_utc, terrain
    )
    for hour in range(1, (request.hours or 0) + 1):
        if sys.stderr.isatty():
            print(f"\rhour {hour} of {request.hours} ", end="", file=sys.stderr, flush=True)
        at_utc = launch_utc + 3600.0 * hour
        try:
            aloft = winds_at(winds, at_utc)
        except OutOfModelRangeError:
            return
        yield forecast(
            flight.name, flight.site, settings, aloft, at_utc, terrain, members=SWEEP_MEMBERS
        )


def _sites(
    flight: FlightFile, settings: PlanSettings, winds: list[Winds], launch_utc: float
) -> Iterator[tuple[SiteSettings, Forecast]]:
    """The candidates and the site itself, where there are candidates."""
    aloft = winds_at(winds, launch_utc)
    for site in (flight.site, *flight.candidate) if flight.candidate else ():
        yield site, forecast(flight.name, site, settings, aloft, launch_utc, members=SWEEP_MEMBERS)


def _ranked(worked: _Worked) -> list[tuple[float, float, SiteSettings, Forecast]]:
    """Sites by the chance of a keep-out, then by how far one drives as the crow flies."""
    found = []
    for site, one in worked.sites:
        landing = one.landing
        away, _ = distance_bearing(
            site.latitude_deg, site.longitude_deg, landing.latitude_deg, landing.longitude_deg
        )
        out = sum(share for _, share in _kept_out(worked, one))
        found.append((round(out, 2), away, site, one))
    return sorted(found, key=lambda one: one[:2])


def _past(path: Path, payload: str) -> Iterator[PastFlight]:
    """The flights of this payload in a station's database. Raises ``StoreError``."""
    with Reader(path) as reader:
        fixes = [fix for _, fix in reader.fixes(payload)]
        yield from past_flights(reader.phases(payload), fixes)


def _winds(request: PlanRequest) -> list[Winds]:
    return [
        Winds(
            time_utc=table.time_utc,
            aloft=WindsAloft.of(
                path.name, table.height_m, table.east_ms, table.north_ms, request.winds_sd_ms
            ),
        )
        for path in request.winds
        for table in read_all_winds(path)
    ]


def _moment(text: str | None) -> float:
    if text is None:
        raise ConfigurationError("when is it let go? Give --launch, or launch in the flight file")
    try:
        time = datetime.fromisoformat(text)
    except ValueError as error:
        raise ConfigurationError(f"{text!r} is not a time such as 2026-05-16T08:30:00Z") from error
    return (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()


def _lines(worked: _Worked) -> Iterator[str]:
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
        limits = _weighed(worked)
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


def _landing_lines(worked: _Worked) -> Iterator[str]:
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
        for name, share in _kept_out(worked, one):
            yield f"      in {name}: {100.0 * share:.0f} %"
    if worked.forecasts:
        if worked.asked_hours >= len(worked.forecasts):
            yield "  The winds do not reach further."
        yield f"  {worked.forecasts[0].basis}"
    best = min(
        worked.forecasts[1:] and worked.forecasts,
        key=lambda one: (
            sum(share for _, share in _kept_out(worked, one)),
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


def _kept_out(worked: _Worked, one: Forecast) -> Iterator[tuple[str, float]]:
    for hazard in worked.keep_out:
        share = share_inside(one.scatter, hazard.parts)
        if share > 0.0:
            yield _name(hazard), share


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


def _json(worked: _Worked) -> JsonObject:
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
            | {"launch": iso_utc(one.launch_utc), "keep_out": dict(_kept_out(worked, one))}
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
