"""groundstation watch: how it stands, in a terminal."""

import os

import click

from groundstation.commands.options import running_station

EXAMPLE = """\b
Example:
  groundstation watch
  ssh base groundstation watch
  groundstation watch --once
"""


@click.command(epilog=EXAMPLE)
@running_station
@click.option("--once", is_flag=True, help="Tell it once and end.")
def watch(address: str, token_env: str | None, once: bool) -> None:
    """Show where the payloads are and where they will land, until Ctrl-C.

    It asks the page of a station that runs, so it needs no browser, and changes nothing. Where the
    output is no terminal it tells once. It ends with 1 where nobody answers.
    """
    from groundstation.jobs.watch import watch_forever  # noqa: PLC0415

    token = os.environ.get(token_env, "") if token_env else ""
    watch_forever(address, token, once=once)
