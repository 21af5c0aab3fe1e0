"""groundstation logbook: the flights that a station keeps."""

from pathlib import Path

import click

EXAMPLE = """\b
Example:
  groundstation logbook data/station.db
  groundstation logbook data/station.db --payload kanalas-1 --compare
  groundstation logbook data/station.db --having "heard on the ground"
  groundstation logbook data/station.db --remove 3
"""


@click.command(epilog=EXAMPLE)
@click.argument("database", type=click.Path(path_type=Path))
@click.option("--payload", help="Only those of this payload.")
@click.option("--having", default="", help="Only those with this text in their line or note.")
@click.option(
    "--compare", is_flag=True,
    help="Side by side: ascent, highest, fall at sea level, at the ground, in the air, distance,"
    " usual interval of fixes, longest silence.",
)  # fmt: skip
@click.option(
    "--remove", "number", type=click.IntRange(min=1),
    help="Remove this flight with all that was heard of it; the station must not be running.",
)  # fmt: skip
@click.option("--yes", is_flag=True, help="Remove without asking.")
def logbook(
    database: Path, payload: str | None, having: str, compare: bool, number: int | None, yes: bool
) -> None:
    """List the flights in a station's database, with what became of each."""
    from groundstation.jobs.debrief import logbook_lines, remove  # noqa: PLC0415

    if number is not None:
        if not yes:
            click.confirm(f"Remove flight {number} from {database} for ever?", abort=True)
        click.echo(remove(database, number))
        return
    for line in logbook_lines(database, payload, having, compared=compare):
        click.echo(line)
