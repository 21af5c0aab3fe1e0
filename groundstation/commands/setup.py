"""groundstation setup: a configuration by asking."""

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from groundstation.commands.options import listening

if TYPE_CHECKING:
    from groundstation.jobs.setup import Answers

EXAMPLE = """\b
Example:
  groundstation setup
  groundstation setup --out base/station.toml --payload kanalas-1 --tracker Q0HAB-11 --kind tcp
      --set host=aprs.example.net --set port=14580 --base "47.10, 20.30" --no-ask
"""

QUESTIONS: Final = {
    "name": "What is the station called?",
    "payload": "What is the payload called?",
    "message": "Paste one raw message of its tracker (Enter where you have none)",
    "kind": "How do such messages come?",
    "tracker": "What does the tracker call itself (its callsign, say)?",
    "tracker_kind": "Is it a radio, satellite, cellular or log tracker?",
    "interval": "How often does it send?",
    "flight": "The file with your plan, such as config/flight.toml (Enter where there is none yet)",
    "base": "Where does your antenna stand, as 47.1000, 20.3000 (Enter to leave it out)?",
    "altitude": "How high is that above the sea?",
    "contact": "What is a finder asked to call or write to (Enter to leave it out)?",
    "phone": "The address of the service that tells your phone, as apprise has it (Enter: later)",
    "push": "Your mail address, for telling phones by web push (Enter to leave it out)",
    "units": "metric or imperial?",
    "language": "In which language shall it speak?",
    "timezone": "In which time zone are you?",
}


@click.command(epilog=EXAMPLE)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    default=Path("station.toml"),
    show_default=True,
    help="The configuration to write.",
)
@click.option("--name", help="The station's name.")
@click.option("--data-dir", help="Where it keeps its data.")
@click.option("--payload", help="The payload's name.")
@click.option("--message", help="A raw message of the tracker; hex:C0 00 … gives bytes.")
@click.option("--form", help="Without a message: aprs or nmea.")
@click.option("--kind", help="How messages come: tcp, serial, udp, file, mqtt, http-push, …")
@click.option(
    "--set",
    "source",
    multiple=True,
    metavar="NAME=VALUE",
    help="A setting of the source, as host=aprs.example.net.",
)
@click.option("--tracker", help="What the tracker calls itself.")
@click.option("--tracker-kind", help="radio, satellite, cellular or log.")
@click.option("--interval", help="How often it sends.")
@click.option("--flight", help="The file with your plan, such as config/flight.toml.")
@click.option("--base", help="Where the antenna stands: latitude, longitude.")
@click.option("--altitude", help="How high that is above the sea.")
@click.option("--contact", help="What a finder calls or writes to.")
@click.option("--phone", help="The address of the phone's service, as apprise has it.")
@click.option("--push", help="A mail address, for web push.")
@click.option("--units", help="metric or imperial.")
@click.option("--language", help="en or hu.")
@click.option("--timezone", help="As Europe/Budapest.")
@click.option("--no-ask", is_flag=True, help="Take the usual where no option says otherwise.")
@click.option("--overwrite", is_flag=True, help="Write over a file that is there.")
@click.option("--no-check", is_flag=True, help="Do not try it.")
@click.option("--no-send", is_flag=True, help="Send nobody a test message.")
@listening
def setup(
    out: Path,
    source: tuple[str, ...],
    no_ask: bool,
    overwrite: bool,
    no_check: bool,
    no_send: bool,
    wait_s: float,
    **given: str | None,
) -> None:
    """Ask for what a station needs, write its configuration, try it, and offer to install it.

    Everything it asks can be given as an option; what is given is not asked. A file that is there
    is never written over without asking.
    """
    from groundstation.jobs import setup as job  # noqa: PLC0415

    ask = not no_ask and sys.stdin.isatty()
    if out.exists() and not overwrite:
        if not ask:
            raise click.ClickException(f"{out} is there; give --overwrite, or another --out")
        if not click.confirm(f"{out} is there already. Write over it?", default=False):
            click.echo(f"{out} stays as it is.")
            return
    answers = job.Answers(timezone=job.own_timezone(), data_dir=job.usual_folder(out))
    for pair in source:
        key, _, wanted = pair.partition("=")
        answers.source[key.strip()] = wanted.strip()
    for name, value in given.items():
        if value is not None:
            setattr(answers, name, job.checked(name, value))
    if ask:
        _asked(answers, {name for name, value in given.items() if value is not None})
    for line in job.write(answers, out, os.environ):
        click.echo(line)
    passed = no_check or job.tried(out, os.environ, send=not no_send, wait_s=wait_s, say=click.echo)
    click.echo(f"\nStart it:  groundstation run --config {out}")
    click.echo(f"The phone: groundstation phone --config {out}")
    if not answers.as_service:
        click.echo("As a service: sudo groundstation setup --out /etc/groundstation/station.toml")
    elif ask and click.confirm("Install it as a service now?", default=False):
        for line in job.installed(out):
            click.echo(line)
    else:
        click.echo(f"As a service: sudo groundstation install --config {out}")
    if not passed:
        click.echo("Mend what failed, and try again: groundstation check --config " + str(out))
        sys.exit(1)


def _asked(answers: "Answers", given: set[str]) -> None:
    from groundstation.jobs import setup as job  # noqa: PLC0415

    for name, question in QUESTIONS.items():
        if name in given:
            continue
        if name == "kind":
            _ask_source(answers, question)
            continue
        if name == "altitude" and not answers.base:
            continue
        usual = getattr(answers, name)
        if name == "tracker":
            usual = job.tracker_of(job.understood(answers), answers)
        setattr(answers, name, _prompt(name, question, usual))
        if name == "message" and answers.message:
            for line in job.explained(answers):
                click.echo(f"  {line}")


def _ask_source(answers: "Answers", question: str) -> None:
    from groundstation.jobs import setup as job  # noqa: PLC0415

    kinds = job.understood(answers).kinds
    answers.kind = _prompt("kind", f"{question} {', '.join(kinds)}", kinds[0])
    for name, example in job.source_questions(answers.kind):
        if name not in answers.source:
            answers.source[name] = _prompt(name, f"  {answers.kind}: {name}", example)


def _prompt(name: str, question: str, usual: str) -> str:
    from groundstation.errors import GroundstationError  # noqa: PLC0415
    from groundstation.jobs import setup as job  # noqa: PLC0415

    def tidy(answer: str) -> str:
        try:
            plain = job.checked(name, answer)
            if name == "message" and plain:
                job.understood(job.Answers(message=plain))
        except GroundstationError as error:
            raise click.UsageError(str(error)) from error
        return plain

    answer: Any = click.prompt(question, default=usual, value_proc=tidy, show_default=bool(usual))
    return str(answer)
