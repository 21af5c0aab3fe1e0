"""groundstation phone: from nothing to a phone that is told, in five minutes."""

import os
import sys
from pathlib import Path

import click

from groundstation.commands.options import role as role_option

EXAMPLE = """\b
Example:
  groundstation phone --config station.toml
  groundstation phone --config station.toml --address https://station.example.net/ --write
"""


@click.command(epilog=EXAMPLE)
@click.option(
    "--config",
    type=click.Path(path_type=Path),
    required=True,
    help="The station's configuration.",
)
@click.option("--address", default="", help="What the phone opens, where a proxy stands before it.")
@click.option("--name", default="phone", show_default=True, help="Whose phone; any name.")
@role_option
@click.option(
    "--network",
    is_flag=True,
    help="Where only this machine opens the page: open it to this network's phones, by a"
    " certificate of its own.",
)
@click.option("--write", is_flag=True, help="Put the token's lines into the configuration.")
@click.option("--no-page", is_flag=True, help="Make no token; only send tests.")
@click.option("--no-send", is_flag=True, help="Send no tests.")
@click.option(
    "--code",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the QR code here too, as .svg or .png.",
)
def phone(
    config: Path,
    address: str,
    name: str,
    role: str,
    network: bool,
    write: bool,
    no_page: bool,
    no_send: bool,
    code: Path | None,
) -> None:
    """Show a QR code that opens the page on a phone, and send a test to each target.

    The code holds a token of its own, shown once and kept nowhere: show it to nobody else. Its
    lines go into the configuration; the station takes them in at its next start.
    """
    from groundstation.jobs import phone as job  # noqa: PLC0415
    from groundstation.station.logs import start_logging  # noqa: PLC0415
    from groundstation.web.settings import Role  # noqa: PLC0415

    start_logging("error")

    def agreed() -> bool:
        asked = sys.stdin.isatty()
        return write or (asked and click.confirm(f"Put it into {config}?", default=True))

    def to_network() -> bool:
        question = "Only this machine opens the page. Open it to the phones of this network?"
        return network or (sys.stdin.isatty() and click.confirm(question, default=True))

    wanted = None if no_page else job.Wanted(address, name, Role(role), code, agreed, to_network)
    if not job.brought(config, os.environ, wanted, send=not no_send, say=click.echo):
        sys.exit(1)
