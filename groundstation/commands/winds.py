"""groundstation winds: one file of winds aloft, from whatever there is."""

from pathlib import Path

import click

EXAMPLE = """\b
Example:
  groundstation winds sounding.txt --out winds.csv
  groundstation winds --fetch --latitude 47.1 --longitude 20.3 --out winds.csv
  groundstation winds --fetch --address https://forecast.example.org \\
    --latitude 47.1 --longitude 20.3 --out winds.csv
"""


@click.command(epilog=EXAMPLE)
@click.argument("files", type=click.Path(path_type=Path), nargs=-1)
@click.option("--fetch", is_flag=True, help="Ask a forecast service, too.")
@click.option("--address", help="Another service, without the path; it must give pressure levels.")
@click.option("--model", help="Which model of it, where --address is given.")
@click.option("--runs", help="The name under which it tells when that was made.")
@click.option("--latitude", type=click.FloatRange(-90.0, 90.0), help="Where.")
@click.option("--longitude", type=click.FloatRange(-180.0, 180.0), help="Where.")
@click.option("--hours", type=click.IntRange(1, 168), default=48, show_default=True,
              help="How many hours, for --fetch.")  # fmt: skip
@click.option("--out", type=click.Path(path_type=Path), required=True, help="The file to write.")
def winds(
    files: tuple[Path, ...],
    fetch: bool,
    address: str | None,
    model: str | None,
    runs: str | None,
    latitude: float | None,
    longitude: float | None,
    hours: int,
    out: Path,
) -> None:
    """Gather winds aloft into one file for plan and for [landing] winds.

    Reads soundings (IGRA v2), tables (CSV: height_m, wind_from_deg, wind_speed_ms), GRIB2 on
    pressure levels (with the extra "grib"; of the point nearest to --latitude, --longitude), and
    forecasts in JSON with pressure levels; --fetch gets the last from an open service over HTTP
    (the README has its terms), or from another by --address. When it was made is kept with it.
    """
    from groundstation.jobs.winds import gather  # noqa: PLC0415
    from groundstation.prepare.forecast import Asked  # noqa: PLC0415
    from groundstation.prepare.services import (  # noqa: PLC0415
        FORECAST,
        FORECAST_MODEL,
        FORECAST_RUNS,
    )

    point = None if latitude is None or longitude is None else (latitude, longitude)
    if fetch and point is None:
        raise click.UsageError("--fetch needs --latitude and --longitude")
    service = None
    if fetch:
        asked = Asked(address=FORECAST.address, model=FORECAST_MODEL, runs=FORECAST_RUNS)
        if address is not None:
            asked = Asked(address=address, model=model or "", runs=runs or "")
        service = asked, hours
    if not files and service is None:
        raise click.UsageError("give files, or --fetch")
    for line in gather(files, point, service, out):
        click.echo(line)
