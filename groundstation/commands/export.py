"""groundstation export: a flight in forms that open elsewhere."""

from pathlib import Path

import click

FORMS = ("gpx", "kml", "geojson", "csv", "frames", "positions")

EXAMPLE = """\b
Example:
  groundstation export data/station.db --form gpx --out flight.gpx
  groundstation export data/station.db --flight 3 --form positions --out positions.txt
"""


@click.command(epilog=EXAMPLE)
@click.argument("database", type=click.Path(path_type=Path))
@click.option(
    "--flight", type=click.IntRange(min=1), help="Its number in the logbook; else the last."
)
@click.option(
    "--form",
    type=click.Choice(FORMS),
    required=True,
    help="frames is all that was heard during it, as it came; positions is a log for an authority.",
)
@click.option("--out", type=click.Path(path_type=Path), required=True, help="The file to write.")
def export(database: Path, flight: int | None, form: str, out: Path) -> None:
    """Write a flight of a station's database as GPX, KML, GeoJSON, CSV, frames, or positions.

    All but the log of positions can be played again with "groundstation replay". Heights are above
    mean sea level. Nothing leaves this machine.
    """
    from groundstation.jobs.debrief import write_export  # noqa: PLC0415

    click.echo(write_export(database, flight, form, out))
