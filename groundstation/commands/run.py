"""groundstation run: the station itself."""

import os
from datetime import UTC, datetime
from pathlib import Path

import click

from groundstation.station.logs import LEVELS, start_logging

EXAMPLE = """\b
Example:
  groundstation run
  groundstation run --flight messenger
  groundstation run --config station.toml
  groundstation run --config station.toml --recording flight.txt --speed 30
"""


FLIGHTS = ("normal", "messenger")


def moment(text: str) -> float:
    """A time in ISO 8601, UTC where it names no offset, or as seconds since 1970."""
    try:
        seconds = float(text)
    except ValueError:
        try:
            time = datetime.fromisoformat(text)
        except ValueError as error:
            raise click.BadParameter(
                f"{text!r} is not a time such as 2026-05-16T08:30:00Z"
            ) from error
        seconds = (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()
    if not 0.0 < seconds < 2e11:
        raise click.BadParameter(f"{text!r} is too far from today")
    return seconds


@click.command(epilog=EXAMPLE)
@click.option("--config", type=click.Path(path_type=Path), help="The station's configuration.")
@click.option(
    "--flight",
    type=click.Choice(FLIGHTS),
    help="The bundled flight that is rehearsed without --config. [default: normal]",
)
@click.option(
    "--recording",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Rehearse with --config, and with this recording in the place of its sources.",
)
@click.option(
    "--as-if", metavar="TIME", type=moment, help="Rehearse: begin as if it were this time."
)
@click.option(
    "--speed",
    metavar="N",
    type=click.FloatRange(min=0.0, min_open=True, max=10_000.0),
    help="Rehearse N times faster than real. [default: 30 without --config, else 1]",
)
@click.option(
    "--tell-targets", is_flag=True, help="In a rehearsal too, alert the targets of --config."
)
@click.option("--log-level", type=click.Choice(LEVELS), default="info", show_default=True)
def run(
    config: Path | None,
    flight: str | None,
    recording: Path | None,
    as_if: float | None,
    speed: float | None,
    tell_targets: bool,
    log_level: str,
) -> None:
    """Run the station until it is stopped by Ctrl-C or the service manager.

    Without --config it rehearses: an invented flight that comes with it plays through the whole
    station, with the page on http://127.0.0.1:8080/ and the alerts in the terminal. That is a usual
    one, or one of which a satellite messenger tells a place each ten minutes.

    With --recording your own station rehearses: any file that replay takes or simulate wrote comes
    in the place of what its sources would hear, and the station's clock begins with its first
    packet. A source that is a recording does the same. Rehearsals are kept in rehearsal.db, apart
    from real flights; each begins anew, while --as-if goes on with what is there. Their alerts say
    "Rehearsal", and are told on the page and in the terminal only, unless --tell-targets is given.
    """
    from groundstation.jobs.run import rehearse_or_run  # noqa: PLC0415

    if flight and config:
        raise click.UsageError("--flight is a bundled one; leave it out, or --config")
    if recording and not config:
        raise click.UsageError("--recording is flown with a station's --config; give that too")
    start_logging(log_level)
    rehearse_or_run(
        config,
        as_if,
        speed,
        os.environ,
        tell_targets=tell_targets,
        rehearsal=flight or FLIGHTS[0],
        recording=recording,
    )
