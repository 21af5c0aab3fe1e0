"""What the person was told, and what of it they have seen."""

from collections import deque
from collections.abc import Collection, Sequence
from typing import Final

from groundstation.alerts.wording import WordingSettings, render
from groundstation.flight.alert_records import Alert, Message
from groundstation.flight.flights import Flights
from groundstation.store.batch import Batch
from groundstation.store.reader import Reader
from groundstation.store.writer import Store

KEEP_MESSAGES: Final = 30  # own choice: what the page shows; the store keeps all


class Telling:
    """``messages`` are the newest, oldest first; ``acknowledged`` are keys that somebody saw."""

    def __init__(self, store: Store, wording: WordingSettings, flights: Flights) -> None:
        self.messages: deque[Message] = deque(maxlen=KEEP_MESSAGES)
        self.acknowledged: set[str] = set()
        self.wording = wording
        self._store = store
        self._flights = flights

    def render(self, alert: Alert) -> Message:
        """The alert in words, from where the vehicles are now."""
        return render(alert, self.wording, self._flights.vehicles.positions)

    async def say(self, alert: Alert) -> None:
        """Tell something that is of no flight."""
        await self.say_all((self.render(alert),))

    async def say_all(self, messages: Sequence[Message]) -> None:
        self.said(messages, await self._store.commit(Batch(messages=tuple(messages))))

    def said(self, messages: Sequence[Message], keys: Collection[str]) -> None:
        """Those of ``messages`` whose keys were new to the store are told."""
        self.messages.extend(message for message in messages if message.alert.key.text in keys)

    async def acknowledge(self, key: str) -> bool:
        """A person has seen the alert ``key``; False where there is none."""
        known = await self._store.acknowledge(key)
        if known:
            self.acknowledged.add(key)
        return known

    def restore(self, reader: Reader) -> None:
        """What was told before the start."""
        self.messages.extend(reversed(reader.recent_messages(KEEP_MESSAGES)))
        self.acknowledged |= reader.acknowledged_keys()
