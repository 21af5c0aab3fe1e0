"""What the replay command prints, line by line."""

import os
from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

from groundstation import config as configuration
from groundstation.alerts.quantities import distance_text, time_text
from groundstation.alerts.wording import WordingSettings
from groundstation.decoders.build import build_decoder
from groundstation.flight.alert_records import Message
from groundstation.flight.settings import VehicleSettings
from groundstation.geo.places import known_places
from groundstation.jobs.own_recording import check_trackers
from groundstation.jsonout import iso_utc, line
from groundstation.recordings.read_any import read_recording
from groundstation.records import Landing, Phase, PhaseChange
from groundstation.station.replay import Told, as_json, make_do, replay

SHOWN_S = 600.0  # own choice: a dozen lines a climb
SHOWN_FALLING_S = 120.0  # own choice: some twenty lines a fall


def play(file: Path, config: Path | None, as_lines: bool) -> Iterator[tuple[float, str]]:
    """Yield (time of reception, text) of what a replay says."""
    if config is None:
        recording = read_recording(file)
        settings = make_do(recording)
        wording = WordingSettings(namer=known_places().nearest)
        vehicles: tuple[VehicleSettings, ...] = ()
    else:
        station = configuration.load(config, os.environ)
        decoders = {
            source.name: build_decoder(source.decoder)
            for source in station.source
            if source.decoder is not None
        }
        recording = read_recording(file, decoders)
        settings = configuration.flight_settings(station)
        check_trackers(file, config, recording, station)
        wording = configuration.wording_settings(station, settings)
        vehicles = station.vehicle
    shown: dict[str, Landing] = {}
    for at_utc, outcome in replay(recording, settings, wording, vehicles):
        if as_lines:
            yield at_utc, line(as_json(at_utc, outcome))
            continue
        if isinstance(outcome, Landing):
            if not _worth_a_line(outcome, shown.get(outcome.payload)):
                continue
            shown[outcome.payload] = outcome
        text = _plain(at_utc, outcome, wording)
        if text:
            yield at_utc, text


def _worth_a_line(new: Landing, shown: Landing | None) -> bool:
    """For a person: the first of each phase, then one every ten minutes, two in the descent."""
    if shown is None or shown.phase is not new.phase:
        return True
    every_s = SHOWN_FALLING_S if new.phase is Phase.DESCENT else SHOWN_S
    return new.phase is not Phase.LANDED and new.time_utc - shown.time_utc >= every_s


def _plain(at_utc: float, outcome: Told, wording: WordingSettings) -> str:
    """One reading for a person; rejected packets are left to --json."""
    at = iso_utc(round(at_utc))
    match outcome:
        case PhaseChange():
            return f"{at}  {outcome.payload}: phase {outcome.phase}"
        case Message():
            body = outcome.body.replace("\n", "\n    ")
            return f"{at}  {outcome.title}\n    {body}"
        case Landing():
            half, most = (
                distance_text(radius_m, wording.units)
                for radius_m in (outcome.radius_50_m, outcome.radius_90_m)
            )
            touchdown = time_text(outcome.eta_utc, ZoneInfo(wording.timezone), zone_name=True)
            return (
                f"{at}  landing {outcome.latitude_deg:.5f}, {outcome.longitude_deg:.5f}"
                f" at {touchdown}, within {half} (50 %), {most} (90 %)"
                f"; {outcome.basis}"
            )
        case _:
            return ""
