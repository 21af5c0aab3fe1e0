"""Options that several commands have."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

F = TypeVar("F", bound=Callable[..., Any])


def running_station(command: F) -> F:
    """``--address`` and ``--token-env``, of a station that runs."""
    token = click.option(
        "--token-env",
        metavar="NAME",
        help="The environment variable that holds a token, where the page asks for one.",
    )
    address = click.option(
        "--address",
        default="http://127.0.0.1:8080/",
        show_default=True,
        help="The page of a station that runs.",
    )
    return address(token(command))


def role(command: F) -> F:
    """``--role``, of whoever may open the page."""
    return click.option(
        "--role",
        type=click.Choice(["full", "look"]),
        default="full",
        show_default=True,
        help="look sees everything; full may also act.",
    )(command)


def listening(command: F) -> F:
    """``--wait``, as ``wait_s``."""
    return click.option(
        "--wait",
        "wait_s",
        metavar="SECONDS",
        type=click.FloatRange(min=0.1, max=3600.0),
        default=20.0,
        show_default=True,
        help="How long to listen to each source for one of your trackers.",
    )(command)


def language_option(help_text: str) -> Callable[[F], F]:
    """``--language``, of what is written for a person."""
    return click.option("--language", metavar="LANGUAGE", help=f"{help_text} Such as en or hu.")
