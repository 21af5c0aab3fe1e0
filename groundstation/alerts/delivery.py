"""Delivering what is in the outbox: each target on its own, until it took it or it is too late.

Nothing is lost: a message is in the outbox before anyone tries to send it, and stays until the
target said yes. Nothing is doubled, but for two cases that no sender can rule out: the process
dies between the target's yes and our commit of it, and a target that took the message without
saying so in time. Both are counted (``uncertain``), and the text carries an id by which a person
sees the double. A planned stop waits for an attempt under way.
"""

import asyncio
import logging
import random
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Final, Protocol

from groundstation.alerts.services import UncertainDeliveryError
from groundstation.alerts.targets import Target
from groundstation.errors import DeliveryError, Words
from groundstation.flight.alert_records import Alert, Message
from groundstation.language.catalogue import said
from groundstation.store.outbox import Dispatch, Nothing
from groundstation.store.patience import Patience
from groundstation.store.writer import Store

log = logging.getLogger(__name__)

GRACE_S: Final = 10.0
"""How long a planned stop waits for an attempt; well below the 90 s of a service manager."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RetrySettings:
    """Waits double from ``first_s`` up to ``most_s``, each cut by up to half by chance so that
    targets that failed together don't come back together. ``attempt_s`` ends an attempt."""

    first_s: float = 2.0
    most_s: float = 60.0
    attempt_s: float = 75.0

    def wait_s(self, attempt: int, chance: random.Random) -> float:
        longest_s = min(self.most_s, self.first_s * 2.0 ** min(attempt - 1, 32))
        return longest_s * chance.uniform(0.5, 1.0)


@dataclass(slots=True)
class _Courier:
    """Brings the messages of one target, one after the other."""

    store: Store
    target: Target
    retry: RetrySettings
    chance: random.Random
    news: asyncio.Event
    word: Callable[[Alert], Message] | None = None
    fails: bool = field(default=False)

    async def run(self) -> None:
        while True:
            self.news.clear()
            due = await self.store.claim(self.target.name)
            match due:
                case Dispatch():
                    await self._bring(due)
                case Nothing(next_try_utc=None):
                    await self.news.wait()
                case Nothing(next_try_utc=float(next_try_utc)):
                    wait_s = min(max(next_try_utc - self.store.now(), 0.01), self.retry.most_s)
                    with suppress(TimeoutError):
                        async with asyncio.timeout(wait_s):
                            await self.news.wait()

    async def _bring(self, dispatch: Dispatch) -> None:
        if self.target.kinds and dispatch.message.alert.kind not in self.target.kinds:
            await self.store.unwanted(dispatch)
            return
        message = dispatch.message
        if dispatch.reworded and self.word is not None:
            message = self.word(message.alert)
        attempt = asyncio.ensure_future(self.target.deliver(message))
        try:
            await asyncio.wait({attempt}, timeout=self.retry.attempt_s)
        except asyncio.CancelledError:
            await asyncio.wait({attempt}, timeout=GRACE_S)
            if attempt.done():
                await self._note(dispatch, attempt)
            else:
                attempt.cancel()
            raise
        if not attempt.done():
            attempt.cancel()
        await self._note(dispatch, attempt)

    async def _note(self, dispatch: Dispatch, attempt: "asyncio.Future[None]") -> None:
        if attempt.done() and not attempt.cancelled() and attempt.exception() is None:
            await self.store.delivered(dispatch)
            if self.fails:
                log.info("alert target %s takes messages again", self.target.name)
            self.fails = False
            return
        why, may_have_arrived = _why(attempt)
        wait_s = self.retry.wait_s(dispatch.attempt, self.chance)
        await self.store.postpone(
            dispatch, wait_s=wait_s, reason=said(why), may_have_arrived=may_have_arrived
        )
        log.log(
            logging.DEBUG if self.fails else logging.WARNING,
            "alert target %s did not take %r: %s; next try in %.0f s",
            self.target.name,
            dispatch.message.title,
            why,
            wait_s,
        )
        self.fails = True


class Joining(Protocol):
    """Targets that come and go while the station runs, all told with the same ``patience``.
    ``changed`` is set where they did; whoever looks clears it before."""

    changed: asyncio.Event
    patience: Patience

    def targets(self) -> Sequence[Target]: ...


async def deliver_forever(
    store: Store,
    targets: Sequence[Target],
    *,
    joining: Joining | None = None,
    retry: RetrySettings | None = None,
    chance: random.Random | None = None,
    word: Callable[[Alert], Message] | None = None,
) -> None:
    """Bring every message in the outbox of ``store`` to its targets, until cancelled.

    ``targets`` must be those whose names the store was opened with; without any, and without
    ``joining``, which may bring more, it returns.
    ``word`` words an alert anew where its target was told another landing point before it than the
    others, as after a failed delivery.
    Waits and ages count in the real time of ``store.now``, also in a rehearsal: the phone network
    is real. Raises ``StoreError`` (in a group) where the outcome of an attempt can't be kept.
    """
    names = [known.name for known in (*targets, *(joining.targets() if joining else ()))]
    cut_short = await store.begin_deliveries(names)
    if cut_short:
        log.warning("%d alerts were being sent when the station stopped; trying again", cut_short)
    async with asyncio.TaskGroup() as group:

        def begin(target: Target) -> asyncio.Task[None]:
            courier = _Courier(
                store,
                target,
                retry or RetrySettings(),
                chance or random.Random(),
                store.listen(),
                word,
            )
            return group.create_task(courier.run(), name=f"alerts to {target.name}")

        for target in targets:
            begin(target)
        couriers: dict[Target, asyncio.Task[None]] = {}
        while joining is not None:
            joining.changed.clear()
            now = joining.targets()
            for target in now:
                if target not in couriers:
                    store.add_target(target.name, joining.patience)
                    couriers[target] = begin(target)
            for target in couriers.keys() - set(now):
                gone = couriers.pop(target)
                gone.cancel()
                await asyncio.wait({gone})
                await store.remove_target(target.name)
            await joining.changed.wait()


def _why(attempt: "asyncio.Future[None]") -> tuple[Words, bool]:
    if not attempt.done() or attempt.cancelled():
        return Words("no answer in time; it may have arrived"), True
    error = attempt.exception()
    if isinstance(error, DeliveryError):
        return error.words, isinstance(error, UncertainDeliveryError)
    # A defect of a library must not end the station, and its text may hold a secret.
    name = type(error).__name__
    return Words("the sender failed ({why}); it may have arrived", why=name), True
