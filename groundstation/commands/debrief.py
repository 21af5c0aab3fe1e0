"""groundstation debrief: the report of a flight."""

from pathlib import Path

import click

from groundstation.commands.options import language_option

EXAMPLE = """\b
Example:
  groundstation debrief data/station.db --out report.html
  groundstation debrief data/station.db --language hu --out report.html
  groundstation debrief data/station.db --flight 3 --plan flight.toml --out report.html
  groundstation debrief data/station.db --log payload.csv --columns columns.toml --out report.html
  groundstation debrief data/station.db --plan flight.toml --lessons lessons.toml \\
    --figures figures --pdf report.pdf --out report.html
"""


@click.command(epilog=EXAMPLE)
@click.argument("database", type=click.Path(path_type=Path))
@click.option(
    "--flight", type=click.IntRange(min=1), help="Its number in the logbook; else the last."
)
@click.option("--plan", type=click.Path(path_type=Path), help="The flight file, to hold it beside.")
@click.option("--log", type=click.Path(path_type=Path), help="The payload's own log, a table.")
@click.option("--columns", type=click.Path(path_type=Path), help="What the log's columns hold.")
@click.option(
    "--config",
    type=click.Path(path_type=Path),
    help="The station's: its base, trackers, units and time zone.",
)
@click.option(
    "--lessons", type=click.Path(path_type=Path), help="Keep here what the flight taught (TOML)."
)
@click.option(
    "--figures", type=click.Path(path_type=Path), help="A folder for the drawings as PNG."
)
@click.option(
    "--pdf",
    type=click.Path(path_type=Path),
    help="Also print it here, by a browser on this machine.",
)
@language_option("The report's language; else that of --config.")
@click.option("--out", type=click.Path(path_type=Path), required=True, help="The page to write.")
def debrief(
    database: Path,
    flight: int | None,
    plan: Path | None,
    log: Path | None,
    columns: Path | None,
    config: Path | None,
    lessons: Path | None,
    figures: Path | None,
    pdf: Path | None,
    language: str | None,
    out: Path,
) -> None:
    """Write a report of a flight: one page with its figures, drawings, estimates and alerts.

    It needs nothing else to be read, and nothing leaves this machine. With the payload's own log
    its clock is found by the heights, its sensors are looked at, and its rows take the place of
    the radio's fixes in the drawings. With the flight file it says what the flight teaches about
    the parachute, the fill and the balloon; "groundstation plan --past" takes the file of lessons.
    """
    from groundstation.jobs.debrief import ReportRequest, write_report  # noqa: PLC0415

    if (log is None) != (columns is None):
        raise click.UsageError("--log and --columns go together; see config/columns.toml")
    own = None if log is None or columns is None else (log, columns)
    request = ReportRequest(
        database=database,
        out=out,
        number=flight,
        plan=plan,
        config=config,
        own=own,
        lessons=lessons,
        figures=figures,
        pdf=pdf,
        language=language,
    )
    for line in write_report(request, lambda text: click.echo(text, err=True)):
        click.echo(line)
