"""What the replay command prints, line by line."""

import os
from collections.abc import Iterator
from pathlib import Path

from groundstation import config as configuration
from groundstation.alerts.wording import WordingSettings
from groundstation.decoders.build import build_decoder
from groundstation.jsonout import iso_utc, line
from groundstation.recording import read_recording
from groundstation.records import Landing, Message, PhaseChange
from groundstation.replay import Told, as_json, make_do, replay


def play(file: Path, config: Path | None, as_lines: bool) -> Iterator[tuple[float, str]]:
    """Yield (time of reception, text) of what a replay says."""
    if config is None:
        recording = read_recording(file)
        settings, wording = make_do(recording), WordingSettings()
    else:
        station = configuration.load(config, os.environ)
        decoders = {
            one.name: build_decoder(one.decoder)
            for one in station.source
            if one.decoder is not None
        }
        recording = read_recording(file, decoders)
        settings = configuration.flight_settings(station)
        wording = configuration.wording_settings(station)
    for at_utc, told in replay(recording, settings, wording):
        if as_lines:
            yield at_utc, line(as_json(at_utc, told))
        else:
            text = _plain(at_utc, told)
            if text:
                yield at_utc, text


def _plain(at_utc: float, told: Told) -> str:
    """One reading for a person; rejected packets are left to --json."""
    at = iso_utc(at_utc)
    match told:
        case PhaseChange():
            return f"{at}  {told.payload}: {told.phase}"
        case Message():
            body = told.body.replace("\n", "\n    ")
            return f"{at}  {told.title}\n    {body}"
        case Landing():
            return (
                f"{at}  landing {told.latitude_deg:.5f} {told.longitude_deg:.5f}"
                f" at {iso_utc(told.eta_utc)}, 50 % within {told.radius_50_m / 1000:.1f} km,"
                f" 90 % within {told.radius_90_m / 1000:.1f} km ({told.basis})"
            )
        case _:
            return ""
