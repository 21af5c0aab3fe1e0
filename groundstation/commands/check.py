"""groundstation check: everything the station needs, tried once."""

import os
import sys
import time
from pathlib import Path

import click

from groundstation.commands.options import listening
from groundstation.station.logs import start_logging

EXAMPLE = """\b
Example:
  groundstation check --config station.toml
  groundstation check --config station.toml --no-send --wait 5
  groundstation check --explain '{"id": "Q0HAB-11", "lat": 47.1, "lon": 20.3}'
"""


@click.command(epilog=EXAMPLE)
@click.option("--config", type=click.Path(path_type=Path), help="The station's configuration.")
@click.option("--no-send", is_flag=True, help="Send no test message to the alert targets.")
@listening
@click.option(
    "--launch",
    is_flag=True,
    help="Only ask the station that runs whether it is ready for the launch.",
)
@click.option(
    "--address",
    default="http://127.0.0.1:8080/",
    show_default=True,
    help="Its page, for --launch.",
)
@click.option(
    "--token-env", metavar="NAME", help="The environment variable that holds a token, for --launch."
)
@click.option(
    "--explain",
    metavar="MESSAGE",
    help="Only show how this raw message is read, and which lines it needs. - reads it from"
    " standard input, hex:C0 00 … gives bytes.",
)
def check(
    config: Path | None,
    no_send: bool,
    wait_s: float,
    launch: bool,
    address: str,
    token_env: str | None,
    explain: str | None,
) -> None:
    """Try the configuration, the disk, the clock, the page's port, each source and each target.

    A test message goes to each target, unless --no-send is given. It ends with 0 where all is
    well, with 1 where something failed, and with 2 where the configuration is wrong. Stop the
    station first: a serial port or a broker's session serves only one.
    """
    if explain is not None:
        from groundstation.jobs import explain as explaining  # noqa: PLC0415

        data = sys.stdin.buffer.read() if explain == "-" else explaining.raw_bytes(explain)
        for line in explaining.explain(data, config, os.environ, time.time()):
            click.echo(line)
        return
    if launch:
        from groundstation.jobs.check_launch import check_launch  # noqa: PLC0415

        token = os.environ.get(token_env, "") if token_env else ""
        sys.exit(0 if check_launch(address, token, click.echo) else 1)
    from groundstation.jobs.check import check_all  # noqa: PLC0415

    start_logging("error")
    passed = check_all(config, os.environ, send=not no_send, wait_s=wait_s, say=click.echo)
    sys.exit(0 if passed else 1)
