"""Reports and fixes as rows of the database and back, exactly.

What goes in comes out equal, to the last bit of a float (only a zero loses its sign). It is
written for speed: one packet passes here three times. A value that no column can hold never
stops the station: such a report is kept whole, as JSON, in the column ``odd``; so is one without a
place.
"""

import json
from typing import Any, Final

from groundstation.records import Fix, Frame, HeightReport, Read, Reason, Report, Unreadable

Row = tuple[Any, ...]

FRAME_COLUMNS: Final = "id, source, receiver, received_utc, data, sent_utc, retained, sender"
REPORT_COLUMNS: Final = (
    "id, frame_id, reason, detail, tracker, latitude_deg, longitude_deg, altitude_m, time_utc, "
    "uncertainty_m, course_deg, speed_ms, satellites, valid, telemetry, comment, path, odd, "
    "time_unread"
)
FIX_COLUMNS: Final = (
    "report_id, payload, tracker, source, time_utc, received_utc, latitude_deg, longitude_deg, "
    "altitude_m, uncertainty_m, course_deg, speed_ms, satellites, telemetry, late, time_unknown"
)
LARGEST_INTEGER: Final = 2**63 - 1
"""The largest that SQLite stores (its documentation, "Datatypes")."""

NOT_A_NUMBER: Final = float("nan")

_encode = json.JSONEncoder(separators=(",", ":")).encode


def storable(text: str) -> str:
    """``text``, with halves of character pairs, which no database takes, turned to "?"."""
    return text if text.isascii() else text.encode("utf-8", "replace").decode("utf-8")


def number(value: float | None) -> float:
    """A required number as stored: NULL stands for "not a number"."""
    return NOT_A_NUMBER if value is None else value


def frame_row(frame_id: int, frame: Frame) -> Row:
    return (
        frame_id,
        storable(frame.source),
        storable(frame.receiver),
        frame.received_utc,
        frame.data,
        frame.sent_utc,
        frame.retained,
        storable(frame.sender),
    )


def row_frame(row: Row) -> tuple[int, Frame]:
    frame_id, source, receiver, received_utc, data, sent_utc, retained, sender = row
    return frame_id, Frame(
        source=source,
        receiver=receiver,
        received_utc=number(received_utc),
        data=data,
        sent_utc=sent_utc,
        retained=bool(retained),
        sender=sender,
    )


def report_row(report_id: int, frame_id: int, what: Read) -> Row:
    if isinstance(what, Unreadable):
        reason, detail = str(what.reason), storable(what.detail)
        return (report_id, frame_id, reason, detail, *((None,) * 15))
    if isinstance(what, HeightReport) or _is_odd(what):
        tracker = storable(what.tracker)
        return (
            report_id,
            frame_id,
            None,
            None,
            tracker,
            *((None,) * 12),
            _encode(_facts(what)),
            None,
        )
    return (
        report_id,
        frame_id,
        None,
        None,
        what.tracker,
        what.latitude_deg,
        what.longitude_deg,
        what.altitude_m,
        what.time_utc,
        what.uncertainty_m,
        what.course_deg,
        what.speed_ms,
        what.satellites,
        what.valid,
        telemetry_text(what.telemetry),
        what.comment,
        _encode(what.path) if what.path else None,
        None,
        what.time_unread or None,
    )


def row_report(row: Row) -> Read:
    (_, _, reason, detail, tracker, latitude_deg, longitude_deg, altitude_m, time_utc) = row[:9]
    uncertainty_m, course_deg, speed_ms, satellites, valid, telemetry, comment, path = row[9:17]
    odd, time_unread = row[17:]
    if reason is not None:
        return Unreadable(reason=Reason(reason), detail=detail)
    if odd is not None:
        facts = json.loads(odd)
        pairs = tuple((name, value) for name, value in facts.pop("telemetry"))
        whole = Report if "latitude_deg" in facts else HeightReport
        return whole(**facts | {"path": tuple(facts["path"]), "telemetry": pairs})
    return Report(
        tracker=tracker,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        altitude_m=altitude_m,
        time_utc=time_utc,
        uncertainty_m=uncertainty_m,
        course_deg=course_deg,
        speed_ms=speed_ms,
        satellites=satellites,
        valid=bool(valid),
        telemetry=text_telemetry(telemetry),
        comment=comment,
        path=() if path is None else tuple(json.loads(path)),
        time_unread=time_unread or "",
    )


def fix_row(report_id: int, fix: Fix) -> Row:
    return (
        report_id,
        storable(fix.payload),
        storable(fix.tracker),
        storable(fix.source),
        fix.time_utc,
        fix.received_utc,
        fix.latitude_deg,
        fix.longitude_deg,
        fix.altitude_m,
        fix.uncertainty_m,
        fix.course_deg,
        fix.speed_ms,
        None if fix.satellites is None else min(fix.satellites, LARGEST_INTEGER),
        telemetry_text(fix.telemetry),
        fix.late,
        fix.time_unknown,
    )


def row_fix(row: Row) -> tuple[int, Fix]:
    report_id, payload, tracker, source, time_utc, received_utc, latitude_deg = row[:7]
    longitude_deg, altitude_m, uncertainty_m, course_deg, speed_ms, satellites = row[7:13]
    return report_id, Fix(
        payload=payload,
        tracker=tracker,
        source=source,
        time_utc=number(time_utc),
        received_utc=number(received_utc),
        latitude_deg=number(latitude_deg),
        longitude_deg=number(longitude_deg),
        altitude_m=altitude_m,
        uncertainty_m=number(uncertainty_m),
        course_deg=course_deg,
        speed_ms=speed_ms,
        satellites=satellites,
        telemetry=text_telemetry(row[13]),
        late=bool(row[14]),
        time_unknown=bool(row[15]),
    )


def telemetry_text(pairs: tuple[tuple[str, float], ...]) -> str | None:
    """Telemetry as a JSON object in its own order, or as pairs where a name comes twice."""
    if not pairs:
        return None
    by_name = dict(pairs)
    return _encode(by_name if len(by_name) == len(pairs) else pairs)


def text_telemetry(text: str | None) -> tuple[tuple[str, float], ...]:
    if text is None:
        return ()
    held = json.loads(text)
    return tuple((name, value) for name, value in (held.items() if type(held) is dict else held))


def _is_odd(report: Report) -> bool:
    # One sum finds a not-a-number among all of them.
    total = (
        report.latitude_deg
        + report.longitude_deg
        + report.uncertainty_m
        + (report.altitude_m or 0.0)
        + (report.time_utc or 0.0)
        + (report.course_deg or 0.0)
        + (report.speed_ms or 0.0)
    )
    return (
        total != total  # noqa: PLR0124
        or not -LARGEST_INTEGER <= (report.satellites or 0) <= LARGEST_INTEGER
        or storable(report.tracker) != report.tracker
        or storable(report.comment) != report.comment
        or storable(report.time_unread) != report.time_unread
    )


def _facts(report: Report | HeightReport) -> dict[str, Any]:
    kept = (name for name in report.__dataclass_fields__ if name != "unread")
    return {name: getattr(report, name) for name in kept}
