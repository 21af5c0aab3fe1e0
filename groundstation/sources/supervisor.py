"""Keeps one source alive: tries again after every end, with growing and jittered pauses."""

import asyncio
import logging
import random
from dataclasses import dataclass

from groundstation.errors import GroundstationError, Words
from groundstation.language.catalogue import said
from groundstation.sources.health import HealthRecorder
from groundstation.sources.source import Emit, Source

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class BackoffSettings:
    """Pauses in real seconds: a random share, at least half, of ``first_s`` doubled at every
    failure, and never more than ``most_s``.

    A connection that stood for ``steady_s`` begins again with ``first_s``. Half the pause is
    random so that many stations do not come back to a server all at once.
    """

    first_s: float = 0.5
    most_s: float = 60.0
    steady_s: float = 30.0

    def pause_s(self, failures: int, chance: random.Random) -> float:
        """The pause after the ``failures``-th failure in a row, counted from 1."""
        most = min(self.most_s, self.first_s * 2.0 ** min(failures - 1, 30))
        return most * chance.uniform(0.5, 1.0)


async def supervise(
    source: Source,
    emit: Emit,
    health: HealthRecorder,
    backoff: BackoffSettings,
    chance: random.Random | None = None,
) -> None:
    """Run ``source`` until it has nothing more to give. Never raises for a source that fails."""
    chance = chance or random.Random()
    loop = asyncio.get_running_loop()
    failures = 0
    while True:
        health.opening()
        begun = loop.time()
        try:
            await source.run(emit, health)
        except GroundstationError as error:
            why = error.words
        except Exception:
            # One source with a fault of ours must not end the others.
            log.exception("%s: a fault in the program; please report it", source.name)
            why = Words("a fault in the program, which stands in the log; please report it")
        else:
            log.info("%s: nothing more to come", source.name)
            health.finished()
            return
        steady = health.is_open and loop.time() - begun >= backoff.steady_s
        failures = 1 if steady else failures + 1
        pause_s = backoff.pause_s(failures, chance)
        log.warning("%s: %s; next try in %.1f s", source.name, str(why).rstrip("."), pause_s)
        health.failed(said(why), pause_s)
        await asyncio.sleep(pause_s)
