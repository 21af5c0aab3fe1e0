"""What the phone command does: the page's address with a token, and a test to whoever is told."""

import asyncio
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from groundstation.alerts.targets import TargetSettings
from groundstation.config import AnyTargetSettings, StationSettings, load
from groundstation.errors import ConfigurationError
from groundstation.html import qr_code
from groundstation.jobs.certificate import (
    CERTIFICATE,
    KEY,
    STEPS,
    made,
    names_of,
    own_address,
    own_names,
)
from groundstation.jobs.check import Findings, try_phones, try_target
from groundstation.jobs.files import write_configuration
from groundstation.web.door import new_token
from groundstation.web.settings import Role, WebSettings, is_loopback

ONLY_HERE: Final = (
    "The page is served to this machine only, so no phone opens it. Either open it to your own"
    " network with a certificate of its own (--network), or let a reverse proxy bring TLS and give"
    " its address: --address https://NAME/"
)
WEB_TABLE: Final = "[web]"
_TABLE: Final = re.compile(r"\[ *web *\] *(#.*)?$")
ANYWHERE: Final = ("0.0.0.0", "::", "")

PUSH: Final = (
    "Take the service's app, and in it the same server and topic as in the address.",
    "Let the phone's settings keep that app awake: no saving of battery for it, and messages"
    " delivered at once.",
    "Let its urgent messages sound in silent mode too: burst and touchdown come so.",
)
MESSENGER: Final = (
    "Join the room of the address with an account of your own, not the one that sends.",
    "Let that room notify of every message, with a sound of its own.",
)
MAIL: Final = (
    "Look in the junk folder, and say that it is none; put the sender among your contacts.",
    "Let the mail program be told at once by its server (push or IDLE); every quarter of an hour is"
    " too late in the air.",
)
OTHER: Final = (
    "See that it arrived, also with the screen off, and that it makes a sound.",
    "Let the phone's settings keep the app that shows it awake.",
)
WEB_PUSH: Final = (
    "On the page: Tell this phone. On an iPhone or iPad put the page on the home screen first, and"
    " open it from there.",
    "Let the phone's settings keep the browser awake: no saving of battery for it.",
)
HINTS: Final[Mapping[str, tuple[str, ...]]] = {
    **dict.fromkeys(("ntfy", "ntfys", "gotify", "gotifys"), PUSH),
    **dict.fromkeys(("matrix", "matrixs", "xmpp", "xmpps"), MESSENGER),
    **dict.fromkeys(("mailto", "mailtos"), MAIL),
}
"""By the scheme of apprise's address."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A code for the phone of ``name``: for the page at ``address`` ("" where the configuration
    tells it), written to ``code`` too. ``agreed`` says whether its lines go into the file, and
    ``network`` whether a page that only this machine opens is opened to the phones of its network,
    by a certificate of its own."""

    address: str
    name: str
    role: Role
    code: Path | None
    agreed: Callable[[], bool]
    network: Callable[[], bool] = lambda: False


def brought(
    config: Path,
    env: Mapping[str, str],
    wanted: Wanted | None,
    *,
    send: bool,
    say: Callable[[str], object],
) -> bool:
    """Show the code that is wanted, and ``send`` tests; whether all of them went out.

    Raises ``ConfigurationError``.
    """
    settings = load(config, env)
    if wanted is not None:
        opened, web_lines = page_address(settings.web, wanted.address), ""
        if opened is None and wanted.network():
            opened, web_lines = _opened_to_network(config, settings.web, say)
        if opened is None:
            say(ONLY_HERE)
        else:
            _show(opened, web_lines, config, env, settings, wanted, say)
    if not send:
        return True
    say("")
    return try_targets(settings, say)


def _show(
    opened: str,
    web_lines: str,
    config: Path,
    env: Mapping[str, str],
    settings: StationSettings,
    wanted: Wanted,
    say: Callable[[str], object],
) -> None:
    name = free_name(wanted.name, settings)
    token, lines = access_lines(name, wanted.role)
    address = link(opened, token)
    if wanted.code is not None:
        qr_code.write(address, wanted.code)
    say(f"{qr_code.in_terminal(address)}\n{address}\n")
    say("Point the phone's camera at it. Who has it comes in: show it to nobody else.")
    if opened.startswith("http:"):
        say(
            "Without TLS whoever listens in this network learns the token, and the phone tells"
            " neither where it is nor takes alerts: see groundstation certificate."
        )
    if wanted.code is not None:
        say(f"{wanted.code} written; it holds the token too.")
    table = f"{WEB_TABLE}\n{web_lines}\n" if web_lines else ""
    by_hand = f"Put into {config}, and start the station again:\n\n{table}{lines}"
    if not wanted.agreed():
        say(by_hand)
        return
    try:
        add_lines(config, lines, env, web_lines)
    except ConfigurationError:
        # The token is told but once.
        say(by_hand)
        raise
    say(f"{config} lets {name!r} in. Start the station again for it.")


def _opened_to_network(
    config: Path, web: WebSettings, say: Callable[[str], object]
) -> tuple[str, str]:
    """Make a certificate: what phones open then, and the lines of the configuration for it."""
    names = own_names()
    # systemd hands a service the files that lie beside its configuration.
    as_service = config.absolute().is_relative_to("/etc")
    folder = config.parent if as_service else config.parent / "certificates"
    for line in made(names, folder, datetime.now(UTC)):
        say(line)
    say("\n" + "\n".join(STEPS))
    say(f"To give it by a code: groundstation certificate --out {folder} --hand-out\n")
    before = "" if as_service else "certificates/"
    key = f"credential:{KEY}" if as_service else f"{before}{KEY}"
    lines = (
        f'host = "0.0.0.0"\nport = {web.port}\n'
        f'certificate = "{before}{CERTIFICATE}"\nkey = "{key}"\n'
    )
    return f"https://{names[0]}:{web.port}/", lines


def page_address(web: WebSettings, given: str = "") -> str | None:
    """What a phone opens, "/" at its end; None where only this machine can open the page.

    ``given`` is the person's own word. Raises ``ConfigurationError``.
    """
    if given:
        if not given.startswith(("https://", "http://")):
            raise ConfigurationError(
                f"--address {given!r} does not begin with https://; give https://NAME:PORT/"
            )
        return given.rstrip("/") + "/"
    if is_loopback(web.host):
        return None
    host = web.host
    if web.certificate is not None:
        named = [name for name in names_of(web.certificate) if not is_loopback(name)]
        host = named[0] if named else host
    if host in ANYWHERE:
        host = own_address()
    scheme = "http" if web.certificate is None else "https"
    return f"{scheme}://{f'[{host}]' if ':' in host else host}:{web.port}/"


def access_lines(name: str, role: Role) -> tuple[str, str]:
    """A new token, and the lines of the configuration that let it in."""
    token, digest = new_token()
    lines = f'[[web.access]]\nname = {json.dumps(name)}\nrole = "{role}"\ntoken_hash = "{digest}"\n'
    return token, lines


def link(address: str, token: str) -> str:
    """What logs in by itself. The part after # is sent to nobody (RFC 3986 section 3.5)."""
    return f"{address}login#token={token}"


def add_lines(config: Path, lines: str, env: Mapping[str, str], web_lines: str = "") -> None:
    """Put ``lines`` at the end of the file and ``web_lines`` into its table for the page, if it can
    still be read then.

    Raises ``ConfigurationError``, and leaves the file as it was.
    """
    try:
        before = _with_web(config.read_text("utf-8").rstrip(), web_lines)
        write_configuration(config, f"{before}\n\n{lines}", env)
    except OSError as error:
        raise ConfigurationError(f"{config} can't be written: {error.strerror}") from error


def _with_web(text: str, web_lines: str) -> str:
    """``text`` with ``web_lines`` in the place of what its table for the page says of the same."""
    if not web_lines:
        return text
    new, lines = web_lines.splitlines(), text.splitlines()
    begin = next((n for n, line in enumerate(lines, 1) if _TABLE.match(line)), None)
    if begin is None:
        return "\n".join([*lines, "", WEB_TABLE, *new])
    named = {_name(line) for line in new}
    end = next((n for n in range(begin, len(lines)) if lines[n].startswith("[")), len(lines))
    kept = [line for line in lines[begin:end] if _name(line) not in named]
    return "\n".join([*lines[:begin], *new, *kept, *lines[end:]])


def _name(line: str) -> str:
    return line.partition("=")[0].strip()


def free_name(name: str, settings: StationSettings) -> str:
    """``name``, with a number where somebody is called so already."""
    taken = {access.name for access in settings.web.access}
    return next(
        candidate
        for candidate in (name if n == 1 else f"{name} {n}" for n in range(1, len(taken) + 2))
        if candidate not in taken
    )


def try_targets(settings: StationSettings, say: Callable[[str], object]) -> bool:
    """Send a test to each target, and say what to do on the phone; whether all went out."""
    report = Findings(say)

    async def send() -> None:
        for target in settings.target:
            await try_target(target, settings.station.name, report, by="groundstation phone")
            for line in hints(target):
                say(f"        {line}")
        if settings.phones is not None:
            await try_phones(settings, report, by="groundstation phone")
            for line in WEB_PUSH:
                say(f"        {line}")

    asyncio.run(send())
    if not settings.target and settings.phones is None:
        report.bad("alerts", "nobody is told; add a [[target]] or [phones] to the configuration")
    return report.passed


def hints(target: AnyTargetSettings) -> tuple[str, ...]:
    """What to do on the phone so that messages of this target are noticed."""
    if not isinstance(target, TargetSettings):
        return ("That is this terminal, not a phone.",)
    scheme = target.url.reveal().partition(":")[0].lower()
    return HINTS.get(scheme, OTHER)
