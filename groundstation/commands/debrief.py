"""groundstation debrief: the report of a flight."""

from pathlib import Path

import click

EXAMPLE = """\b
Example:
  groundstation debrief data/station.db --out report.html
  groundstation debrief data/station.db --flight 3 --plan flight.toml --out report.html
"""


@click.command(epilog=EXAMPLE)
@click.argument("database", type=click.Path(path_type=Path))
@click.option(
    "--flight", type=click.IntRange(min=1), help="Its number in the logbook; else the last."
)
@click.option("--plan", type=click.Path(path_type=Path), help="The flight file, to hold it beside.")
@click.option("--out", type=click.Path(path_type=Path), required=True, help="The page to write.")
def debrief(database: Path, flight: int | None, plan: Path | None, out: Path) -> None:
    """Write a report of a flight: one page with its figures, drawings, estimates and alerts.

    It needs nothing else to be read, and nothing leaves this machine.
    """
    from groundstation.commands.debriefing import write_report  # noqa: PLC0415

    click.echo(write_report(database, flight, plan, out))
