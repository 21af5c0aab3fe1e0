"""The station in figures, in the text form of OpenMetrics 1.0, for whoever collects such.

Names begin with ``groundstation_``; times are seconds, in the station's time.
"""

from collections.abc import Iterator
from typing import Final

from groundstation.web.snapshot import SourceState, StationSnapshot

CONTENT_TYPE: Final = "application/openmetrics-text; version=1.0.0; charset=utf-8"

Labels = dict[str, str]
Sample = tuple[Labels, float | None]


def metrics_text(snapshot: StationSnapshot) -> str:
    """All families, ended as the form asks for."""
    return "".join(f"{row}\n" for row in (*_lines(snapshot), "# EOF"))


def _lines(snapshot: StationSnapshot) -> Iterator[str]:
    counts, now = snapshot.counts, snapshot.now_utc
    yield from _family("frames", "counter", "Frames taken.", [({}, counts.frames)])
    yield from _family("fixes", "counter", "Fixes believed.", [({}, counts.fixes)])
    yield from _family(
        "refused",
        "counter",
        "Frames and reports not used, by reason.",
        [({"reason": str(reason)}, n) for reason, n in sorted(counts.rejected.items())],
    )
    yield from _family(
        "source_up",
        "gauge",
        "Whether a source is connected.",
        [
            (
                {"source": source.name},
                float(source.state in (SourceState.RUNNING, SourceState.QUIET)),
            )
            for source in snapshot.sources
        ],
    )
    yield from _family(
        "source_frames",
        "counter",
        "Frames by source.",
        [({"source": source.name}, source.frames) for source in snapshot.sources],
    )
    yield from _family(
        "source_heard_age_seconds",
        "gauge",
        "Time since a source was last heard.",
        [
            (
                {"source": source.name},
                None if source.last_frame_utc is None else now - source.last_frame_utc,
            )
            for source in snapshot.sources
        ],
    )
    yield from _family(
        "payload_heard_age_seconds",
        "gauge",
        "Time since a payload was last heard.",
        [
            (
                {"payload": payload.payload},
                None if payload.last is None else now - payload.last.received_utc,
            )
            for payload in snapshot.payloads
        ],
    )
    yield from _family(
        "payload_altitude_metres",
        "gauge",
        "Last known height above the sea.",
        [
            (
                {"payload": payload.payload},
                None if payload.last is None else payload.last.altitude_m,
            )
            for payload in snapshot.payloads
        ],
    )
    for name, what in (
        ("waiting", "Messages that wait for a target."),
        ("delivered", "Messages that a target took."),
        ("expired", "Messages that were of no use any more before a target took them."),
        ("uncertain", "Messages that a target may have got twice."),
    ):
        yield from _family(
            f"messages_{name}",
            "gauge",
            what,
            [({"target": target.name}, getattr(target, name)) for target in snapshot.targets],
        )
    for name, what, value in (
        ("unwritten", "Steps held in memory because the disk takes nothing.", snapshot.unwritten),
        ("disk_free_bytes", "Room left on the disk.", snapshot.disk_free_bytes),
        ("disk_written_bytes", "Written to the disk since the start.", snapshot.disk_written_bytes),
        ("memory_bytes", "Resident memory.", snapshot.memory_bytes),
        ("pipeline_still_seconds", "Time since the pipeline moved.", snapshot.still_s),
        ("problems", "Things that need somebody.", len(snapshot.problems)),
    ):
        yield from _family(name, "gauge", what, [({}, value)])


def _family(name: str, kind: str, what: str, samples: list[Sample]) -> Iterator[str]:
    known = [(labels, value) for labels, value in samples if value is not None]
    if not known:
        return
    full = f"groundstation_{name}"
    yield f"# TYPE {full} {kind}"
    yield f"# HELP {full} {what}"
    ending = "_total" if kind == "counter" else ""
    for labels, value in known:
        pairs = ",".join(f'{key}="{_escaped(text)}"' for key, text in labels.items())
        yield f"{full}{ending}{'{' + pairs + '}' if pairs else ''} {float(value)!r}"


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
