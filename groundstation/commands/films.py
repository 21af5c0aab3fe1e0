"""groundstation films: what is to be seen where in the films of a flight, and where photos are."""

from pathlib import Path

import click

EXAMPLE = """\b
Example:
  groundstation films data/station.db --cameras cameras.toml --out films/
"""


@click.command(epilog=EXAMPLE)
@click.argument("database", type=click.Path(path_type=Path))
@click.option(
    "--flight", type=click.IntRange(min=1), help="Its number in the logbook; else the last."
)
@click.option(
    "--cameras", type=click.Path(path_type=Path), required=True,
    help="When each was switched on, or what is seen in it (config/cameras.toml).",
)  # fmt: skip
@click.option("--log", type=click.Path(path_type=Path), help="The payload's own log, a table.")
@click.option("--columns", type=click.Path(path_type=Path), help="What the log's columns hold.")
@click.option(
    "--config", type=click.Path(path_type=Path), help="The station's, for its units and time zone."
)
@click.option("--out", type=click.Path(path_type=Path), required=True, help="A folder to write.")
def films(
    database: Path, flight: int | None, cameras: Path, log: Path | None, columns: Path | None,
    config: Path | None, out: Path,
) -> None:  # fmt: skip
    """List when launch, heights, cloud, burst and touchdown are in which film.

    Into the folder go films.csv, chapters of each film (WebVTT), and for photos sidecars with time
    and place (XMP) and photos.gpx. With the payload's own log clouds are told by its humidity.
    """
    from groundstation.jobs.films import write_films  # noqa: PLC0415

    if (log is None) != (columns is None):
        raise click.UsageError("--log and --columns go together; see config/columns.toml")
    own = None if log is None or columns is None else (log, columns)
    for line in write_films(database, flight, cameras, own, out, config):
        click.echo(line)
