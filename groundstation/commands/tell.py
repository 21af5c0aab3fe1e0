"""groundstation tell: what a person saw of a flight."""

import os
from pathlib import Path

import click

from groundstation.commands.options import running_station

KINDS = {
    "launched": "it was let go",
    "burst": "the burst was seen or heard",
    "seen": "seen in the sky: --bearing, perhaps --elevation, --from",
    "not-seen": "looked for there and not seen: --bearing, --from",
    "came-down": "seen or heard coming down near --from",
    "radio": "its signal comes from there: --bearing, --from",
    "nothing-here": "at the point --from, and it is not here",
    "no-flight": "what was told is no flight: a drive, a test",
}
LIST = "\n".join(f"  {name:13} {text}" for name, text in KINDS.items())

EPILOG = f"""\b
What can be told:
{LIST}

\b
Example:
  groundstation tell launched
  groundstation tell launched --at 08:31
  groundstation tell seen --bearing 140 --elevation 30 --from 47.10,20.30
  groundstation tell radio --bearing 215 --error 10 --from base
  groundstation tell --take-back 1204
"""


@click.command(epilog=EPILOG)
@click.argument("what", type=click.Choice(list(KINDS)), required=False)
@click.option("--payload", help="Which one, where there are several.")
@click.option(
    "--at", help="When it was: 08:31 in the station's time zone, or 2026-05-16T06:31:00Z."
)
@click.option("--from", "place", metavar="LAT,LON", help='Where the person stood, or "base".')
@click.option(
    "--bearing", metavar="DEGREES", type=click.FloatRange(0.0, 360.0), help="From true north."
)
@click.option(
    "--error", metavar="DEGREES", type=float, help="Of the bearing; one sd. Usual: 8; radio 15."
)
@click.option("--elevation", metavar="DEGREES", type=float, help="Above the horizon.")
@click.option("--note", default="", help="What else there is to say.")
@click.option("--take-back", metavar="NUMBER", type=int, help="What was told counts no more.")
@running_station
@click.option(
    "--config",
    type=click.Path(path_type=Path),
    help="Write it into this station's database where the station does not run.",
)
def tell(
    what: str | None,
    payload: str | None,
    at: str | None,
    place: str | None,
    bearing: float | None,
    error: float | None,
    elevation: float | None,
    note: str,
    take_back: int | None,
    address: str,
    token_env: str | None,
    config: Path | None,
) -> None:
    """Tell the station what a person saw or heard of a flight.

    It counts at once in where the payload is and lands, and can be taken back by the number that is
    printed. The station that runs is told over its page. Where it does not run, --config has it
    written into the database, and the station counts it when it starts.
    """
    from groundstation.jobs.tell import Told, tell_of  # noqa: PLC0415

    if (what is None) == (take_back is None):
        raise click.UsageError("say what was seen, or give --take-back NUMBER")
    word = Told(
        what=what,
        payload=payload,
        at=at,
        place=place,
        bearing_deg=bearing,
        bearing_sd_deg=error,
        elevation_deg=elevation,
        note=note,
        take_back=take_back,
    )
    token = os.environ.get(token_env, "") if token_env else ""
    click.echo(tell_of(word, address, token, config, os.environ))
