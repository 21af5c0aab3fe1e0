"""Invented records for the tests of the store."""

from typing import Final

from groundstation.flight.alert_records import (
    Alert,
    AlertKey,
    Burst,
    Facts,
    LandingMoved,
    Message,
    Moved,
)
from groundstation.records import (
    Act,
    Fix,
    Frame,
    Instruction,
    Landing,
    Phase,
    Place,
    Reason,
    Report,
    Unreadable,
    Verdict,
)
from groundstation.store.batch import Batch

PAYLOAD: Final = "kanalas-1"
INSTRUCTION: Final = Instruction(
    act=Act.HEAD,
    since_utc=1_780_000_000.5,
    phase=Phase.DESCENT,
    where=Place(latitude_deg=47.25, longitude_deg=20.625, altitude_m=85.0),
    radius_50_m=800.0,
    down_utc=1_780_001_800.0,
)
START_UTC: Final = 1_780_000_000.125
TELEMETRY: Final = (("temperature_k", 231.4), ("battery_v", 3.91), ("pressure_pa", 12_345.6))


def frame(number: int) -> Frame:
    line = f"Q0HAB-11>APRS,WIDE2-1:/120000h4706.00N/02018.00EO{number:03d}/012/A=012345"
    return Frame(
        source="serial", receiver="base", received_utc=START_UTC + number, data=line.encode()
    )


def report(number: int) -> Report:
    return Report(
        tracker="Q0HAB-11",
        latitude_deg=47.1 + number * 1e-4,
        longitude_deg=20.3 + number * 1e-4,
        altitude_m=85.0 + 5.3 * number,
        time_utc=START_UTC + number - 0.75,
        course_deg=71.0,
        speed_ms=6.2,
        telemetry=TELEMETRY,
        path=("WIDE2-1", "qAR"),
    )


def fix(number: int, *, late: bool = False) -> Fix:
    told = report(number)
    return Fix(
        payload=PAYLOAD,
        tracker=told.tracker,
        source="serial",
        time_utc=told.time_utc or 0.0,
        received_utc=START_UTC + number,
        latitude_deg=told.latitude_deg,
        longitude_deg=told.longitude_deg,
        altitude_m=told.altitude_m,
        course_deg=told.course_deg,
        speed_ms=told.speed_ms,
        telemetry=told.telemetry,
        late=late,
    )


def landing(number: int) -> Landing:
    ring = ((47.2, 20.5), (47.25, 20.6), (47.1, 20.7 + number / 7.0), (47.2, 20.5))
    return Landing(
        payload=PAYLOAD,
        time_utc=START_UTC + number,
        evidence_utc=START_UTC + number - 3.0,
        phase=Phase.DESCENT,
        latitude_deg=47.2 + number / 3e5,
        longitude_deg=20.6,
        ground_m=85.0,
        eta_utc=START_UTC + 1_800.0,
        eta_90_utc=(START_UTC + 1_700.0, START_UTC + 1_900.0),
        descent_rate_ms=5.4,
        region_50=(ring,),
        region_90=(ring, ring),
        radius_50_m=800.0,
        radius_90_m=2_100.0,
        basis="ascent winds",
        inside=(("town East", 0.125 + number / 100.0),) if number % 2 else (),
    )


def message(key: str, *, thread: str = "", useful_for_s: float = 3_600.0) -> Message:
    facts: Facts = Burst(altitude_m=30_120.5, landing=landing(4))
    if thread:
        facts = LandingMoved(landing=landing(4))
    alert = Alert(
        key=AlertKey(payload=PAYLOAD, begun_utc=1_780_000_000, kind=facts.kind, occasion=key),
        time_utc=START_UTC,
        phase=Phase.DESCENT,
        facts=facts,
        fix=fix(3),
        moved=Moved(distance_m=2_100.5, bearing_deg=71.0) if thread else None,
        instruction=INSTRUCTION,
        thread=thread,
        useful_for_s=useful_for_s,
    )
    return Message(alert=alert, title=f"{PAYLOAD}: {key}", body="Head for the landing point.")


def packet(seq: int) -> Batch:
    """One packet as the station commits it: frame ``seq``, report ``seq + 1``, accepted."""
    return Batch(
        frames=((seq, frame(seq)),),
        reports=((seq + 1, seq, report(seq)),),
        verdicts=(Verdict(report_id=seq + 1, fix=fix(seq)),),
    )


def noise(seq: int) -> Batch:
    """A frame that no decoder could read."""
    what = Unreadable(reason=Reason.CHECKSUM, detail="the checksum says 1A, the line says 1B")
    return Batch(frames=((seq, frame(seq)),), reports=((seq + 1, seq, what),))
