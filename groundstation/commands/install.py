"""groundstation install: the station as a service of systemd."""

from pathlib import Path

import click

EXAMPLE = """\b
Example:
  sudo groundstation install --config /etc/groundstation/station.toml
  sudo groundstation install --remove
"""


@click.command(epilog=EXAMPLE)
@click.option("--config", type=click.Path(path_type=Path), help="The station's configuration.")
@click.option(
    "--unit-dir",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("/etc/systemd/system"),
    show_default=True,
    help="Where the unit goes.",
)
@click.option("--remove", is_flag=True, help="Stop the service and take the unit away.")
@click.option("--no-start", is_flag=True, help="Only write the unit; do not start it.")
def install(config: Path | None, unit_dir: Path, remove: bool, no_start: bool) -> None:
    """Run the station as a service that starts with the machine and is started again when it ends.

    Doing it again changes nothing. What the station has stored is never removed.
    """
    from groundstation.jobs.install import installed, removed  # noqa: PLC0415

    lines = removed(unit_dir) if remove else installed(config, unit_dir, start=not no_start)
    for line in lines:
        click.echo(line)
