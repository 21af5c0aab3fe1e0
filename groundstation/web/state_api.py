"""The JSON of ``GET /api/state`` and ``GET /api/health``.

Its fields are those of ``web/snapshot.py``, described at ``/api/description``. Every time is ISO
8601 text in UTC, ``…Z``. Beside it stands how long ago it was when the answer was made, ``…_age_s``
(or ``…_in_s``, how long until then), in station time: in a rehearsal the station's clock is that of
the recording and runs ``speed`` times as fast. A reader that shows an age adds ``speed`` times the
real seconds since it asked. What is not known is null, NaN never. Distances and bearings are from
the base, or from where it was to land; regions are GeoJSON, longitude first.
"""

from collections.abc import Sequence
from typing import Final

from groundstation.jsonout import JsonObject
from groundstation.physics.geodesy import distance_bearing
from groundstation.records import Fix
from groundstation.schema.encode import record_json
from groundstation.web.payload_snapshot import LandingSnapshot, PayloadSnapshot
from groundstation.web.snapshot import (
    HealthSnapshot,
    StationSnapshot,
    VehicleSnapshot,
    WaySnapshot,
)

DRIVING_MS: Final = 3.0
"""Slower than this a vehicle stands or turns, and no time can be told. Own choice: a fast walk."""


def state_json(snapshot: StationSnapshot) -> JsonObject:
    """The whole station as one object."""
    return record_json(snapshot, snapshot.now_utc)


def health_json(snapshot: StationSnapshot) -> JsonObject:
    heard = [p.last.received_utc for p in snapshot.payloads if p.last is not None]
    return record_json(
        HealthSnapshot(
            now_utc=snapshot.now_utc,
            started_utc=snapshot.started_utc,
            rehearsal=snapshot.rehearsal,
            problems=len(snapshot.problems),
            sources={source.name: source.state for source in snapshot.sources},
            frames=snapshot.counts.frames,
            fixes=snapshot.counts.fixes,
            heard_age_s=snapshot.now_utc - max(heard) if heard else None,
            outbox_waiting=sum(target.waiting for target in snapshot.targets),
        )
    )


def vehicle(fix: Fix, payloads: Sequence[PayloadSnapshot]) -> VehicleSnapshot:
    """A vehicle, whose name stands in ``payload``, with its ways to where things land."""
    return VehicleSnapshot(
        vehicle=fix.payload,
        time_utc=fix.time_utc,
        latitude_deg=fix.latitude_deg,
        longitude_deg=fix.longitude_deg,
        speed_ms=fix.speed_ms,
        course_deg=fix.course_deg,
        to_landing=tuple(
            _on_the_way(fix, payload.landing) for payload in payloads if payload.landing is not None
        ),
    )


def _on_the_way(fix: Fix, landing: LandingSnapshot) -> WaySnapshot:
    away_m, bearing = distance_bearing(
        fix.latitude_deg, fix.longitude_deg, landing.latitude_deg, landing.longitude_deg
    )
    speed = fix.speed_ms
    moving = speed is not None and speed >= DRIVING_MS
    return WaySnapshot(
        payload=landing.payload,
        distance_m=away_m,
        bearing_deg=bearing,
        straight_in_s=away_m / speed if moving and speed is not None else None,
    )
