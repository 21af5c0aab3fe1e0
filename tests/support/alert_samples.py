"""Invented messages, and targets of the tests' own."""

import asyncio
from typing import Final

from groundstation.alerts.wording import WordingSettings, render
from groundstation.flight.alert_records import Alert, AlertKey, Burst, Facts, Message
from groundstation.records import AlertKind, Phase

NOW_UTC: Final = 1_780_000_000.0
BURST: Final = Burst(altitude_m=30_120.0)


def message(
    key: str,
    facts: Facts = BURST,
    *,
    thread: str = "",
    useful_for_s: float = 3_600.0,
) -> Message:
    alert = Alert(
        key=AlertKey(payload="kanalas-1", begun_utc=None, kind=facts.kind, occasion=key),
        time_utc=NOW_UTC,
        phase=Phase.DESCENT,
        facts=facts,
        thread=thread,
        useful_for_s=useful_for_s,
    )
    return render(alert, WordingSettings())


class Ear:
    """A target that hears, and does before it what a test asks it to do."""

    def __init__(self, name: str = "ear", kinds: tuple[AlertKind, ...] = ()) -> None:
        self.name = name
        self.kinds = kinds
        self.heard: list[str] = []
        self.tried: list[str] = []
        self.troubles: list[Exception] = []
        self.open = asyncio.Event()
        self.open.set()

    async def deliver(self, message: Message) -> None:
        self.tried.append(message.alert.key.occasion)
        await self.open.wait()
        if self.troubles:
            raise self.troubles.pop(0)
        self.heard.append(message.alert.key.occasion)
