"""The JSON of ``GET /api/state``.

Every time is ISO 8601 text in UTC, ``…Z``. Beside it stands how long ago it was when the answer
was made, ``…_age_s`` (or ``…_in_s``, how long until then), counted in station time: in a rehearsal
the station's clock is that of the recording and runs ``speed`` times as fast. A reader that shows
an age adds ``speed`` times the real seconds since it asked. What is not known is null, NaN never.

::

  {"now": "…Z", "started": "…Z", "station": "…", "rehearsal": false, "speed": 1.0,
   "timezone": "Europe/Budapest", "units": "metric" | "feet-miles",
   "base": {"lat", "lon", "altitude_m"} | null,
   "problems": ["sentence", …],
   "payloads": [{"payload", "phase", "since", "since_age_s", "rate_ms",
     "last": {"time", "age_s", "received", "received_age_s", "lat", "lon", "altitude_m",
              "uncertainty_m", "course_deg", "speed_ms", "satellites", "tracker", "source",
              "telemetry": {name: value}, "distance_m", "bearing_deg", "geo", "map"} | null,
     "landing": {…as the replay command prints it…, "age_s", "evidence_age_s", "eta_in_s",
                 "distance_m", "bearing_deg", "geo", "map"} | null,
     "launch": {"time", "age_s", "lat", "lon", "altitude_m"} | null,
     "burst": {"time", "age_s", "altitude_m"} | null,
     "expected_burst_m",
     "planned": {"lat", "lon", "radius_90_m", "distance_m", "bearing_deg"} | null,
     "signal_lost": {"time", "in_s", "agl_m"} | null,
     "found": {"payload", "time", "lat", "lon", "condition", "who", "note"} | null,
     "trackers": [{"id", "received", "received_age_s"}, …]}, …],
   "vehicles": [{"vehicle", "time", "age_s", "lat", "lon", "speed_ms", "course_deg",
                 "to_landing": [{"payload", "distance_m", "bearing_deg", "straight_in_s"}, …]}, …],
   "sources": [{"name", "kind", "state", "since", "since_age_s", "frames", "last_frame",
                "last_frame_age_s", "failures", "last_error", "next_try_s",
                "receivers": [{"name", "frames", "last", "last_age_s"}, …]}, …],
   "targets": [{"name", "kind", "waiting", "delivered", "expired", "uncertain", "failures",
                "last_delivered", "last_delivered_age_s", "oldest_waiting",
                "oldest_waiting_age_s", "last_error", "next_try_s"}, …],
   "counts": {"frames", "fixes", "rejected": {reason: count}},
   "messages": [{"time", "age_s", "kind", "title", "body", "key", "seen"}, …]}

Distances and bearings are from the base, or from where it was to land; regions are GeoJSON,
longitude first.
"""

from collections.abc import Sequence
from typing import Final

from groundstation.flight.settings import BaseSettings, PlannedLanding
from groundstation.jsonout import (
    JsonObject,
    degrees,
    iso_utc,
    landing_json,
    metres,
    number,
)
from groundstation.physics.geodesy import distance_bearing
from groundstation.records import Fix, Landing
from groundstation.search.found import Found
from groundstation.web.snapshot import (
    MessageSnapshot,
    PayloadSnapshot,
    SourceSnapshot,
    StationSnapshot,
    TargetSnapshot,
)

DRIVING_MS: Final = 3.0
"""Slower than this a vehicle stands or turns, and no time can be told."""


def state_json(snapshot: StationSnapshot) -> JsonObject:
    """The whole station as one object; see the module's text."""
    now = snapshot.now_utc
    return {
        "now": iso_utc(now),
        "started": iso_utc(snapshot.started_utc),
        "station": snapshot.station,
        "rehearsal": snapshot.rehearsal,
        "speed": number(snapshot.speed, 3),
        "timezone": snapshot.timezone,
        "units": snapshot.units.value,
        "base": _base(snapshot.base),
        "problems": list(snapshot.problems),
        "payloads": [_payload(payload, now) for payload in snapshot.payloads],
        "vehicles": [_vehicle(fix, snapshot.payloads, now) for fix in snapshot.vehicles],
        "sources": [_source(source, now) for source in snapshot.sources],
        "targets": [_target(target, now) for target in snapshot.targets],
        "counts": {
            "frames": snapshot.counts.frames,
            "fixes": snapshot.counts.fixes,
            "rejected": {
                reason.value: count for reason, count in sorted(snapshot.counts.rejected.items())
            },
        },
        "messages": [_message(message, now) for message in snapshot.messages],
    }


def health_json(snapshot: StationSnapshot) -> JsonObject:
    """A few numbers for a monitor: is it alive, does anything come in, does anything wait."""
    heard = [p.last.received_utc for p in snapshot.payloads if p.last is not None]
    return {
        "now": iso_utc(snapshot.now_utc),
        "started": iso_utc(snapshot.started_utc),
        "rehearsal": snapshot.rehearsal,
        "problems": len(snapshot.problems),
        "sources": {source.name: source.state.value for source in snapshot.sources},
        "frames": snapshot.counts.frames,
        "fixes": snapshot.counts.fixes,
        "heard_age_s": _age(max(heard, default=None), snapshot.now_utc),
        "outbox_waiting": sum(target.waiting for target in snapshot.targets),
    }


def _age(time_utc: float | None, now: float) -> float | None:
    return None if time_utc is None else number(now - time_utc, 1)


def _base(base: BaseSettings | None) -> JsonObject | None:
    if base is None:
        return None
    return {
        "lat": degrees(base.latitude_deg),
        "lon": degrees(base.longitude_deg),
        "altitude_m": metres(base.altitude_m),
    }


def _vehicle(fix: Fix, payloads: Sequence[PayloadSnapshot], now: float) -> JsonObject:
    return {
        "vehicle": fix.payload,
        "time": iso_utc(fix.time_utc),
        "age_s": _age(fix.time_utc, now),
        "lat": degrees(fix.latitude_deg),
        "lon": degrees(fix.longitude_deg),
        "speed_ms": number(fix.speed_ms, 2),
        "course_deg": number(fix.course_deg, 1),
        "to_landing": [
            _on_the_way(fix, one.payload, one.landing)
            for one in payloads
            if one.landing is not None
        ],
    }


def _on_the_way(vehicle: Fix, payload: str, landing: Landing) -> JsonObject:
    """``straight_in_s`` is how long it would take in a straight line at the vehicle's speed."""
    away_m, bearing = distance_bearing(
        vehicle.latitude_deg, vehicle.longitude_deg, landing.latitude_deg, landing.longitude_deg
    )
    speed = vehicle.speed_ms
    moving = speed is not None and speed >= DRIVING_MS
    return {
        "payload": payload,
        "distance_m": metres(away_m),
        "bearing_deg": number(bearing, 1),
        "straight_in_s": number(away_m / speed, 0) if moving and speed is not None else None,
    }


def _payload(payload: PayloadSnapshot, now: float) -> JsonObject:
    burst = payload.burst
    return {
        "payload": payload.payload,
        "phase": payload.phase.value,
        "since": iso_utc(payload.since_utc),
        "since_age_s": _age(payload.since_utc, now),
        "rate_ms": number(payload.rate_ms, 2),
        "last": payload.last and _last(payload.last, payload, now),
        "landing": payload.landing and _landing(payload.landing, payload, now),
        "launch": payload.launch and _launch(payload.launch, now),
        "burst": burst
        and {
            "time": iso_utc(burst.time_utc),
            "age_s": _age(burst.time_utc, now),
            "altitude_m": metres(burst.altitude_m),
        },
        "expected_burst_m": metres(payload.expected_burst_m),
        "planned": payload.planned and _planned(payload.planned, payload.landing),
        "signal_lost": None
        if payload.signal_lost_utc is None
        else {
            "time": iso_utc(payload.signal_lost_utc),
            "in_s": number(payload.signal_lost_utc - now, 1),
            "agl_m": metres(payload.signal_lost_agl_m),
        },
        "found": payload.found and found_json(payload.found),
        "trackers": [
            {
                "id": one.id,
                "received": iso_utc(one.heard_utc),
                "received_age_s": _age(one.heard_utc, now),
            }
            for one in payload.trackers
        ],
    }


def _last(fix: Fix, payload: PayloadSnapshot, now: float) -> JsonObject:
    return {
        "time": iso_utc(fix.time_utc),
        "age_s": _age(fix.time_utc, now),
        "received": iso_utc(fix.received_utc),
        "received_age_s": _age(fix.received_utc, now),
        "lat": degrees(fix.latitude_deg),
        "lon": degrees(fix.longitude_deg),
        "altitude_m": metres(fix.altitude_m),
        "uncertainty_m": metres(fix.uncertainty_m),
        "course_deg": number(fix.course_deg, 1),
        "speed_ms": number(fix.speed_ms, 2),
        "satellites": fix.satellites,
        "tracker": fix.tracker,
        "source": fix.source,
        "telemetry": {name: number(value, 3) for name, value in fix.telemetry},
        "distance_m": metres(payload.last_distance_m),
        "bearing_deg": number(payload.last_bearing_deg, 1),
        **_links(fix.latitude_deg, fix.longitude_deg),
    }


def _landing(landing: Landing, payload: PayloadSnapshot, now: float) -> JsonObject:
    return landing_json(landing) | {
        "age_s": _age(landing.time_utc, now),
        "evidence_age_s": _age(landing.evidence_utc, now),
        "eta_in_s": number(landing.eta_utc - now, 1),
        "distance_m": metres(payload.landing_distance_m),
        "bearing_deg": number(payload.landing_bearing_deg, 1),
        **_links(landing.latitude_deg, landing.longitude_deg),
    }


def _planned(planned: PlannedLanding, landing: Landing | None) -> JsonObject:
    """``distance_m`` and ``bearing_deg`` are from there to where it lands now."""
    away, bearing = (
        (None, None)
        if landing is None
        else distance_bearing(
            planned.latitude_deg, planned.longitude_deg, landing.latitude_deg, landing.longitude_deg
        )
    )
    return {
        "lat": degrees(planned.latitude_deg),
        "lon": degrees(planned.longitude_deg),
        "radius_90_m": metres(planned.radius_90_m),
        "distance_m": metres(away),
        "bearing_deg": number(bearing, 1),
    }


def _launch(fix: Fix, now: float) -> JsonObject:
    return {
        "time": iso_utc(fix.time_utc),
        "age_s": _age(fix.time_utc, now),
        "lat": degrees(fix.latitude_deg),
        "lon": degrees(fix.longitude_deg),
        "altitude_m": metres(fix.altitude_m),
    }


def found_json(found: Found) -> JsonObject:
    """What became of a payload in the end."""
    return {
        "payload": found.payload,
        "time": iso_utc(found.time_utc),
        "lat": degrees(found.latitude_deg),
        "lon": degrees(found.longitude_deg),
        "condition": found.condition.value,
        "who": found.who,
        "note": found.note,
    }


def _links(latitude_deg: float, longitude_deg: float) -> JsonObject:
    """Where a phone opens the point: RFC 5870 for its own map, a web map for the rest."""
    lat, lon = degrees(latitude_deg), degrees(longitude_deg)
    if lat is None or lon is None:
        return {"geo": None, "map": None}
    point = f"{lat:.6f},{lon:.6f}"
    return {
        # The query is what makes Android drop a pin (its developer guide, "Common intents: maps").
        "geo": f"geo:{point}?q={point}",
        "map": f"https://www.openstreetmap.org/?mlat={lat:.6f}&mlon={lon:.6f}"
        f"#map=14/{lat:.5f}/{lon:.5f}",
    }


def _source(source: SourceSnapshot, now: float) -> JsonObject:
    return {
        "name": source.name,
        "kind": source.kind,
        "state": source.state.value,
        "since": iso_utc(source.since_utc),
        "since_age_s": _age(source.since_utc, now),
        "frames": source.frames,
        "last_frame": iso_utc(source.last_frame_utc),
        "last_frame_age_s": _age(source.last_frame_utc, now),
        "failures": source.failures,
        "last_error": source.last_error,
        "next_try_s": number(source.next_try_s, 1),
        "receivers": [
            {
                "name": one.name,
                "frames": one.frames,
                "last": iso_utc(one.last_utc),
                "last_age_s": _age(one.last_utc, now),
            }
            for one in source.receivers
        ],
    }


def _target(target: TargetSnapshot, now: float) -> JsonObject:
    return {
        "name": target.name,
        "kind": target.kind,
        "waiting": target.waiting,
        "delivered": target.delivered,
        "expired": target.expired,
        "uncertain": target.uncertain,
        "failures": target.failures,
        "last_delivered": iso_utc(target.last_delivered_utc),
        "last_delivered_age_s": _age(target.last_delivered_utc, now),
        "oldest_waiting": iso_utc(target.oldest_waiting_utc),
        "oldest_waiting_age_s": _age(target.oldest_waiting_utc, now),
        "last_error": target.last_error,
        "next_try_s": number(target.next_try_s, 1),
    }


def _message(message: MessageSnapshot, now: float) -> JsonObject:
    return {
        "time": iso_utc(message.time_utc),
        "age_s": _age(message.time_utc, now),
        "kind": message.kind,
        "title": message.title,
        "body": message.body,
        "key": message.key,
        "seen": message.seen,
    }
