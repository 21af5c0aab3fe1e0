"""groundstation certificate: TLS for the phones of one's own network."""

from datetime import UTC, datetime
from pathlib import Path

import click

EXAMPLE = """\b
Example:
  groundstation certificate --name station.local --name 192.168.1.20
  groundstation certificate --out certificates --hand-out
"""


@click.command(epilog=EXAMPLE)
@click.option(
    "--name",
    "names",
    multiple=True,
    help="What phones open: a host name or an address; may be given again."
    " Usual: this machine's own name and address.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("certificates"),
    show_default=True,
    help="The folder that the files go to.",
)
@click.option(
    "--new-authority", is_flag=True, help="Make another authority; phones must be given it anew."
)
@click.option(
    "--hand-out",
    is_flag=True,
    help="Then give the authority to phones of this network, until Ctrl-C.",
)
@click.option("--port", default=8082, show_default=True, help="For --hand-out.")
def certificate(
    names: tuple[str, ...], out: Path, new_authority: bool, hand_out: bool, port: int
) -> None:
    """Make a certificate for the station's page, by an authority of your own.

    Phones that were given the authority open the page over https, tell where they are and take
    alerts. Doing it again makes a new certificate by the same authority: do that before it ends.
    The authority vouches for the names it was made for and for nothing else.
    """
    from groundstation.jobs import certificate as job  # noqa: PLC0415

    names = names or job.own_names()
    for line in job.made(names, out, datetime.now(UTC), new_authority=new_authority):
        click.echo(line)
    click.echo("\nPut into the configuration, under [web]:")
    click.echo('host = "0.0.0.0"')
    click.echo(f'certificate = "{(out / job.CERTIFICATE).absolute()}"')
    click.echo(f'key = "{(out / job.KEY).absolute()}"')
    click.echo(
        "As a service, which reads no private files of others: --out /etc/groundstation, beside"
        f' station.toml, and key = "credential:{job.KEY}"'
    )
    click.echo("\n" + "\n".join(job.STEPS))
    if not hand_out:
        return
    with job.hand_out(out, port) as server:
        click.echo(f"\n{job.code_of(server)}\nCtrl-C ends it.")
        try:
            server.serve_forever()
        except KeyboardInterrupt:
            click.echo("Ended.")
