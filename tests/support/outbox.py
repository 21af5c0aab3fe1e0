"""The outbox at work, for tests of delivery."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path

from groundstation.alerts.delivery import Joining, RetrySettings, deliver_forever
from groundstation.alerts.targets import Target
from groundstation.store.outbox import TargetFigures
from groundstation.store.reader import Reader
from groundstation.store.writer import Store

QUICK = RetrySettings(first_s=0.02, most_s=0.05)


@asynccontextmanager
async def delivering(
    store: Store, *targets: Target, joining: Joining | None = None, retry: RetrySettings = QUICK
) -> AsyncIterator[None]:
    task = asyncio.ensure_future(deliver_forever(store, targets, joining=joining, retry=retry))
    try:
        yield
    finally:
        task.cancel()
        with suppress(asyncio.CancelledError):
            await task


def figures(path: Path, target: str = "ear") -> TargetFigures:
    with Reader(path) as reader:
        return {one.target: one for one in reader.outbox_counts()}[target]
