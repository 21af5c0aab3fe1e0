"""groundstation plan: gas, height, fall, landing, and the thresholds of the rules."""

from pathlib import Path

import click

from groundstation.commands.options import language_option

EXAMPLE = """\b
Example:
  groundstation plan config/flight.toml
  groundstation plan config/flight.toml --winds winds.csv --launch 2026-05-16T08:30:00Z
  groundstation plan config/flight.toml --json
"""


@click.command(epilog=EXAMPLE)
@click.argument("flight", type=click.Path(path_type=Path))
@click.option(
    "--winds",
    type=click.Path(path_type=Path),
    multiple=True,
    help="Winds aloft: a table (CSV) or soundings (IGRA v2). May be given several times.",
)
@click.option("--winds-sd", "winds_sd", type=click.FloatRange(0.1, 50.0),
              help="How far those are off, m/s in each component; else by how old the forecast is,"
              " or 3 where that is not known.")  # fmt: skip
@click.option("--launch", metavar="TIME", help="When it is let go; else that of the flight file.")
@click.option(
    "--sweep", "hours", metavar="HOURS", type=click.IntRange(1, 96),
    help="Also each hour from then on.",
)  # fmt: skip
@click.option(
    "--keep-out", type=click.Path(path_type=Path), help="GeoJSON of where it must not come down."
)
@click.option(
    "--notice", type=click.Path(path_type=Path), help="Write a draft for the authority here."
)
@click.option("--brief", type=click.Path(path_type=Path), help="Write a page for the day (HTML).")
@click.option(
    "--past",
    type=click.Path(path_type=Path),
    help="A station's database or lessons of debrief: flights with the same gear narrow this one.",
)
@click.option("--terrain", type=click.Path(path_type=Path), help="A folder of .hgt tiles.")
@click.option(
    "--config", type=click.Path(path_type=Path),
    help="The station's, for its units and time zone, and the forecast that it keeps.",
)  # fmt: skip
@click.option("--fetch", is_flag=True, help="Ask for a new forecast; needs --config.")
@language_option("The language of what it says and writes; else that of --config.")
@click.option("--checklist", is_flag=True, help="Also the checklist for the day.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object, in English.")
def plan(
    flight: Path,
    winds: tuple[Path, ...],
    winds_sd: float | None,
    launch: str | None,
    hours: int | None,
    keep_out: Path | None,
    terrain: Path | None,
    past: Path | None,
    notice: Path | None,
    brief: Path | None,
    config: Path | None,
    fetch: bool,
    language: str | None,
    checklist: bool,
    as_json: bool,
) -> None:
    """Work out a flight from its file: how much gas, how high, how hard it lands, and where.

    With --winds it can draft the notice that an authority asks for, and write a page for the day.
    Every figure has a judged span, meant to hold nine flights of ten, and what drives it. The
    file's [aim] says what is solved for. Thresholds of rules are told, never that something is
    allowed.
    """
    from groundstation.jobs.plan import PlanRequest, work, write  # noqa: PLC0415
    from groundstation.jobs.plan_text import plan_json, plan_text  # noqa: PLC0415

    request = PlanRequest(
        flight=flight,
        winds=winds,
        winds_sd_ms=winds_sd,
        launch=launch,
        hours=hours,
        keep_out=keep_out,
        terrain=terrain,
        past=past,
        notice=notice,
        brief=brief,
        config=config,
        fetch=fetch,
        language=language,
    )
    worked = work(request)
    write(request, worked)
    if as_json:
        click.echo(plan_json(request, worked))
    else:
        click.echo(plan_text(worked, checklist=checklist))
