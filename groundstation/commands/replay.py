"""groundstation replay: a recording through the flight logic."""

import sys
import time
from pathlib import Path

import click


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_lines", is_flag=True, help="Print one JSON object a line.")
@click.option("--config", type=click.Path(path_type=Path), help="Payloads, base, plan and units.")
@click.option(
    "--speed",
    default="max",
    show_default=True,
    metavar="N|max",
    help="N times real time, or as fast as it goes.",
)
def replay(file: Path, as_lines: bool, config: Path | None, speed: str) -> None:
    """Fly a recording again: phases, landing estimates and alerts.

    FILE is a track (CSV with time,lat,lon,alt_m), raw packets (unix time, tab, packet), an NMEA
    log, GPX, KML or GeoJSON with times, the station's own database, or frames that "groundstation
    export" wrote. Without --config it takes all of it as one payload,
    and the height of the launch as the ground.

    \b
    Example:
      groundstation replay replay/normal.csv --speed 60
      groundstation replay replay/hard.txt --json > flight.jsonl
    """
    from groundstation.jobs.replay import play  # noqa: PLC0415

    pace = _pace(speed)
    began = time.monotonic()
    first: float | None = None
    for at_utc, text in play(file, config, as_lines):
        if pace is not None:
            first = at_utc if first is None else first
            left = (at_utc - first) / pace - (time.monotonic() - began)
            if left > 0:
                time.sleep(left)
        sys.stdout.write(text + "\n")
        if pace is not None:
            sys.stdout.flush()


def _pace(speed: str) -> float | None:
    if speed == "max":
        return None
    try:
        pace = float(speed)
    except ValueError:
        pace = 0.0
    if not pace > 0 or pace == float("inf"):
        raise click.BadParameter("give a number above 0, or max", param_hint="--speed")
    return pace
