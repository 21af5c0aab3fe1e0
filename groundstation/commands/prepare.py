"""groundstation prepare: all that a day without a network needs."""

from pathlib import Path

import click

EXAMPLE = """\b
Example:
  groundstation prepare --config station.toml
  groundstation prepare --config station.toml --check
"""


@click.command(epilog=EXAMPLE)
@click.option("--config", type=click.Path(path_type=Path), required=True, help="The station's.")
@click.option("--radius", metavar="DISTANCE",
              help='Around the site, such as "80 km"; else as far as the plan may land, or 150 km.'
              )  # fmt: skip
@click.option("--only", type=click.Choice(("forecast", "terrain", "villages", "map")),
              multiple=True, help="This part only; may be given several times.")  # fmt: skip
@click.option("--check", is_flag=True, help="Only say what a flight without a network lacks.")
def prepare(config: Path, radius: str | None, only: tuple[str, ...], check: bool) -> None:
    """Fetch terrain, a map, villages and a forecast for the region of the flight.

    From open services or from folders and addresses of your own ([prepare] in the configuration;
    the README has their terms), into the station's data folder, where the station finds it. What
    was fetched, from whom and under which licence is told and kept. Stopped and called again it
    goes on where it was.
    """
    from groundstation.jobs import prepare as job  # noqa: PLC0415
    from groundstation.units import parse_quantity  # noqa: PLC0415

    request = job.Request(
        config=config,
        radius_m=None if radius is None else parse_quantity(radius, "length"),
        only=only,
    )
    if not check:
        for line in job.prepare(request):
            click.echo(line)
        return
    for line in job.progress(request):
        click.echo(line)
    missing = job.check(request)
    for line in missing:
        click.echo(f"missing: {line}")
    if not missing:
        click.echo("Nothing is missing for a flight without a network.")
    raise SystemExit(1 if missing else 0)
