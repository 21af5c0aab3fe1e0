"""groundstation logbook: the flights that a station keeps."""

from pathlib import Path

import click

EXAMPLE = """\b
Example:
  groundstation logbook data/station.db
  groundstation logbook data/station.db --payload kanalas-1
"""


@click.command(epilog=EXAMPLE)
@click.argument("database", type=click.Path(path_type=Path))
@click.option("--payload", help="Only those of this payload.")
def logbook(database: Path, payload: str | None) -> None:
    """List the flights in a station's database, with what became of each."""
    from groundstation.commands.debriefing import logbook_lines  # noqa: PLC0415

    for line in logbook_lines(database, payload):
        click.echo(line)
