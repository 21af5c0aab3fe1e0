"""The command line. Each command is imported only when it is asked for."""

import importlib
import os
import sys
import traceback
from typing import Final

import click

from groundstation.errors import GroundstationError

COMMANDS: Final = {
    "plan": "Work out a flight beforehand: gas, height, fall, landing, rules.",
    "label": "Write what stands on the box, for whoever finds it.",
    "winds": "Gather winds aloft into one file.",
    "prepare": "Fetch what a day without a network needs.",
    "run": "Run the station; without --config, a rehearsal.",
    "replay": "Fly a recording again.",
    "simulate": "Write an invented flight down as a recording.",
    "tell": "Tell the station what a person saw of a flight.",
    "watch": "Show in a terminal how it stands.",
    "logbook": "List the flights that a station keeps.",
    "debrief": "Write the report of a flight.",
    "films": "Tell what is where in the films of a flight.",
    "export": "Write a flight as GPX, KML, GeoJSON or CSV.",
    "check": "Try the configuration, the disk, each source and each target once.",
    "setup": "Write a configuration by asking.",
    "phone": "Bring the page and the alerts onto a phone.",
    "certificate": "Make a certificate for the phones of your own network.",
    "install": "Run the station as a service of systemd.",
    "token": "Make a token for somebody who may open the page.",
}
"""Names with their one line of help, so that --help imports none of them."""


class _LazyCommands(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"groundstation.commands.{cmd_name}")
        command = getattr(module, cmd_name)
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        # click's own near-miss search would import every command.
        if args and args[0] not in COMMANDS:
            ctx.fail(f"there is no command {args[0]!r}; known are {', '.join(COMMANDS)}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


def _tell_version(ctx: click.Context) -> None:
    from groundstation.jobs.version import version_text  # noqa: PLC0415  (asks git)

    click.echo(f"groundstation {version_text()}")
    ctx.exit()


@click.group(
    cls=_LazyCommands,
    epilog="\b\nExample:\n  groundstation run\n  groundstation run --config station.toml",
)
@click.option("--debug", is_flag=True, help="Show where in the program an error arose.")
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=lambda ctx, _, asked: _tell_version(ctx) if asked else None,
    help="Show the version, and the commit it was made from.",
)
def cli(debug: bool) -> None:
    """A ground station for one person's high-altitude balloon.

    It takes position packets, keeps them, works out where the payload will land, and tells the
    phone. Follow your local rules, and let whoever drives drive.
    """


def main() -> None:
    """Run the command line; the entry point of the package."""
    # The matrices here are small: threads cost more than they bring, above all on a small board.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    debug = "--debug" in sys.argv[1:2]
    try:
        cli.main(prog_name="groundstation", standalone_mode=True)
    except GroundstationError as error:
        if debug:
            traceback.print_exc()
        click.echo(f"groundstation: {error}", err=True)
        sys.exit(error.exit_code)
