"""groundstation token: who may open the page from elsewhere."""

import json

import click

from groundstation.commands.options import role as role_option

EXAMPLE = """\b
Example:
  groundstation token --name phone
  groundstation token --name helpers --role look
"""


@click.command(epilog=EXAMPLE)
@click.option("--name", required=True, help="Who it is for; any name.")
@role_option
def token(name: str, role: str) -> None:
    """Make a token for the page, and the lines that let it in.

    The token is shown once and kept nowhere. Its SHA-256 goes into the configuration; take the
    lines out again and start the station anew, and it is worth nothing.
    """
    from groundstation.web.door import new_token  # noqa: PLC0415

    secret, digest = new_token()
    click.echo(f"Token for {name} (shown once): {secret}", err=True)
    click.echo("Put into the configuration:", err=True)
    click.echo(f'[[web.access]]\nname = {json.dumps(name)}\nrole = "{role}"')
    click.echo(f'token_hash = "{digest}"')
