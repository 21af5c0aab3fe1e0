"""groundstation label: what stands on the box."""

import os
from pathlib import Path

import click

EXAMPLE = """\b
Example:
  groundstation label --config station.toml --contact "+36 00 000 0000" --out label.svg
  groundstation label --config station.toml --size A7 --reward --out label.pdf
"""


@click.command(epilog=EXAMPLE)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    help="Where it goes: a name that ends in .svg or .pdf.",
)
@click.option(
    "--config",
    type=click.Path(path_type=Path),
    help="The station's configuration, which knows whose it is and the contact.",
)
@click.option("--whose", default="", help="Whose it is.")
@click.option(
    "--contact",
    default="",
    help="What the finder calls: a number with its country, a mail or an https address.",
)
@click.option("--payload", default="", help="The payload's name and call sign.")
@click.option("--reward/--no-reward", default=False, help="Whether the finder gets a reward.")
@click.option(
    "--size", type=click.Choice(["A6", "A7"]), default="A6", show_default=True, help="Of the paper."
)
@click.option(
    "--languages",
    default="en,hu",
    show_default=True,
    help="Two of them, best those of where it may come down.",
)
def label(
    out: Path,
    config: Path | None,
    whose: str,
    contact: str,
    payload: str,
    reward: bool,
    size: str,
    languages: str,
) -> None:
    """Write the label for the box: harmless, whose it is, whom to call, and what to mind.

    Print it without scaling, and protect it from rain. What a label must say besides, your rules
    know; it is you who says that the box is harmless.
    """
    from groundstation.jobs.label import Given, label_of, write_label  # noqa: PLC0415

    first, _, second = languages.partition(",")
    given = Given(
        whose=whose,
        contact=contact,
        payload=payload,
        reward=reward,
        languages=(first.strip(), second.strip() or first.strip()),
    )
    write_label(label_of(given, config, os.environ), size, out)
    click.echo(f"{out} written, {size}: print it without scaling")
