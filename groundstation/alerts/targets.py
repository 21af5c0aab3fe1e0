"""Where messages go: the terminal, or any service that apprise knows."""

import asyncio
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

from groundstation.alerts.services import ServiceTarget
from groundstation.errors import ConfigurationError, DeliveryError
from groundstation.flight.alert_records import Message
from groundstation.records import AlertKind
from groundstation.settings.secret import Secret
from groundstation.store.patience import Patience, quiet_time


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetSettings:
    """A service that apprise reaches by ``url``. ``kinds`` are those it gets; () means all.

    One recipient for each: where one of several fails, all of them would get the message again.

    With ``unseen_s`` it is told only of what nobody has acknowledged for so long. ``quiet`` is a
    time of day such as "22:00-06:00", in the station's time zone, in which it gets only what is
    urgent; ``most_an_hour`` bounds the rest.
    """

    name: str
    url: Secret
    kind: Literal["apprise"] = "apprise"
    kinds: tuple[AlertKind, ...] = ()
    unseen_s: float = 0.0
    quiet: str = ""
    most_an_hour: int | None = None

    def __post_init__(self) -> None:
        if self.unseen_s < 0.0:
            raise ConfigurationError("unseen_s must not be negative")
        if self.most_an_hour is not None and self.most_an_hour < 1:
            raise ConfigurationError("most_an_hour is at least 1")
        if self.quiet and quiet_time(self.quiet) is None:
            raise ConfigurationError(f'quiet: {self.quiet!r} is not a time such as "22:00-06:00"')


@dataclass(frozen=True, slots=True, kw_only=True)
class TerminalSettings:
    """Messages on standard output."""

    name: str = "terminal"
    kind: Literal["terminal"] = "terminal"
    kinds: tuple[AlertKind, ...] = ()


class Target(Protocol):
    """Somewhere a message can go. Its name stands in the outbox."""

    @property
    def name(self) -> str: ...

    @property
    def kinds(self) -> tuple[AlertKind, ...]:
        """What it wants to get; () means all."""

    async def deliver(self, message: Message) -> None:
        """Return when it took ``message``.

        Raises ``DeliveryError`` with a plain reason that holds no secret, and
        ``UncertainDeliveryError`` where it may have taken it all the same.
        """


class TerminalTarget:
    """Prints each message as one block of text."""

    def __init__(
        self, settings: TerminalSettings, write: Callable[[str], object] | None = None
    ) -> None:
        self.name = settings.name
        self.kinds = settings.kinds
        self._write = write or _print

    async def deliver(self, message: Message) -> None:
        body = message.body.replace("\n", "\n    ")
        try:
            await asyncio.to_thread(self._write, f"{message.title}\n    {body}\n")
        except (OSError, ValueError) as error:
            raise DeliveryError("the terminal can't be written to ({why})", why=error) from error


def patience_of(
    settings: Sequence[TargetSettings | TerminalSettings], timezone: str
) -> dict[str, Patience]:
    """When each target is told, where it is not at once."""
    return {
        target.name: Patience(
            unseen_s=target.unseen_s,
            quiet=quiet_time(target.quiet),
            timezone=timezone,
            most_an_hour=target.most_an_hour,
        )
        for target in settings
        if isinstance(target, TargetSettings)
    }


async def build_targets(
    settings: Sequence[TargetSettings | TerminalSettings],
) -> tuple[Target, ...]:
    """Make the targets ready. Takes a second, in a thread, where services are among them.

    Raises ``ConfigurationError`` for a doubled name or an address that apprise can't use.
    """
    names = [target.name for target in settings]
    doubled = {name for name in names if names.count(name) > 1}
    if doubled:
        raise ConfigurationError(
            f"two alert targets are named {min(doubled)!r}; give each its own name"
        )
    return tuple([await _build(target) for target in settings])


async def _build(settings: TargetSettings | TerminalSettings) -> Target:
    if isinstance(settings, TerminalSettings):
        return TerminalTarget(settings)
    return await asyncio.to_thread(ServiceTarget, settings.name, settings.url, settings.kinds)


def _print(text: str) -> None:
    sys.stdout.write(text)
    sys.stdout.flush()
