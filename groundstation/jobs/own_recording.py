"""Whether a recording can be flown with a configuration at all."""

from pathlib import Path
from typing import Final

from groundstation.config import StationSettings
from groundstation.errors import InputFileError
from groundstation.flight.roster import Roster
from groundstation.flight.settings import FlightSettings
from groundstation.flight.vehicles import Vehicles
from groundstation.recordings.recording import Recording
from groundstation.records import Report

MOST_NAMED: Final = 5  # own choice: enough to see what was heard


def roster_of(settings: StationSettings) -> Roster:
    """Whose tracker is whose."""
    return Roster(
        tuple(FlightSettings(payload=each.name, trackers=each.tracker) for each in settings.payload)
    )


def check_trackers(
    file: Path, config: Path, recording: Recording, station: StationSettings
) -> None:
    """Raises ``InputFileError`` where nothing in the file is of a payload of the configuration:
    nothing at all would be told."""
    roster, moving = roster_of(station), Vehicles(station.vehicle)
    heard: dict[str, None] = {}
    for frame in recording.frames:
        for read in recording.decode(frame):
            if not isinstance(read, Report):
                continue
            if roster.payload_of(read.tracker) is not None or read.tracker in moving:
                return
            heard[read.tracker] = None
    known = ", ".join(tracker.id for each in station.payload for tracker in each.tracker)
    others = list(heard)[:MOST_NAMED]
    if not others:
        raise InputFileError(
            f"{file}: no position in it can be read; with {config} its frames are read by the"
            " decoders of the sources that they came from"
        )
    more = " and others" if len(heard) > MOST_NAMED else ""
    raise InputFileError(
        f"{file} holds {', '.join(others)}{more}, and {config} has payloads with {known} only; add"
        " the tracker to a payload; replay takes the file without --config too"
    )
