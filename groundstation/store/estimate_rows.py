"""Phases and landing estimates as rows of the database and back, exactly."""

import json
from dataclasses import asdict
from typing import Final

from groundstation.records import Landing, Phase, PhaseChances, PhaseChange, Progress, Region
from groundstation.store.fix_rows import Row, number, storable

LANDING_COLUMNS: Final = (
    "id, payload, time_utc, evidence_utc, phase, latitude_deg, longitude_deg, ground_m, eta_utc, "
    "eta_first_utc, eta_last_utc, descent_rate_ms, rate_first_ms, rate_last_ms, region_50, "
    "region_90, radius_50_m, radius_90_m, basis, inside, progress"
)
PHASE_COLUMNS: Final = "payload, time_utc, phase, since_utc"

_encode = json.JSONEncoder(separators=(",", ":")).encode


def phase_row(change: PhaseChange) -> Row:
    return (storable(change.payload), change.time_utc, str(change.phase), change.since_utc)


def row_phase(row: Row) -> PhaseChange:
    payload, time_utc, phase, since_utc = row
    return PhaseChange(payload=payload, time_utc=time_utc, phase=Phase(phase), since_utc=since_utc)


def landing_row(seq: int, landing: Landing) -> Row:
    return (
        seq,
        storable(landing.payload),
        landing.time_utc,
        landing.evidence_utc,
        str(landing.phase),
        landing.latitude_deg,
        landing.longitude_deg,
        landing.ground_m,
        landing.eta_utc,
        *landing.eta_90_utc,
        landing.descent_rate_ms,
        *(landing.descent_rate_90_ms or (None, None)),
        _encode(landing.region_50),
        _encode(landing.region_90),
        landing.radius_50_m,
        landing.radius_90_m,
        storable(landing.basis),
        _encode([(storable(name), share) for name, share in landing.inside]),
        "" if landing.progress is None else _encode(asdict(landing.progress)),
    )


def row_landing(row: Row) -> tuple[int, Landing]:
    seq, payload, time_utc, evidence_utc, phase, latitude_deg, longitude_deg, ground_m = row[:8]
    eta_utc, first, last, rate_ms, slowest, fastest, region_50, region_90 = row[8:16]
    radius_50_m, radius_90_m, basis, inside, progress = row[16:]
    return seq, Landing(
        payload=payload,
        time_utc=number(time_utc),
        evidence_utc=number(evidence_utc),
        phase=Phase(phase),
        latitude_deg=number(latitude_deg),
        longitude_deg=number(longitude_deg),
        ground_m=number(ground_m),
        eta_utc=number(eta_utc),
        eta_90_utc=(number(first), number(last)),
        descent_rate_ms=number(rate_ms),
        region_50=_region(region_50),
        region_90=_region(region_90),
        radius_50_m=number(radius_50_m),
        radius_90_m=number(radius_90_m),
        basis=basis,
        descent_rate_90_ms=None if slowest is None or fastest is None else (slowest, fastest),
        inside=tuple((name, share) for name, share in json.loads(inside)),
        progress=_progress(progress),
    )


def _progress(text: str) -> Progress | None:
    if not text:
        return None
    values = json.loads(text)
    for name in ("height_90_m", "burst_90_utc"):
        values[name] = values[name] and tuple(values[name])
    return Progress(**values | {"chance": PhaseChances(**values["chance"])})


def _region(text: str) -> Region:
    return tuple(tuple((lat, lon) for lat, lon in ring) for ring in json.loads(text))
