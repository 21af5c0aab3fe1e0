"""The parts that a packet meets between its source and the disk, put together."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Self

from groundstation.alerts.wording import WordingSettings
from groundstation.clock import Clock
from groundstation.decoders.decoder import Decoder
from groundstation.flight.flights import Flights
from groundstation.station.clock_jumps import ClockJumps
from groundstation.station.estimator import Estimator
from groundstation.station.folding import Folding
from groundstation.station.pipeline import Pipeline
from groundstation.station.reading import Reading
from groundstation.station.restoring import Restoring
from groundstation.station.snapshot_keeper import SnapshotKeeper
from groundstation.station.telling import Telling
from groundstation.store.writer import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class Core:
    flights: Flights
    store: Store
    folding: Folding
    telling: Telling
    restoring: Restoring
    snapshots: SnapshotKeeper
    estimator: Estimator
    pipeline: Pipeline

    @classmethod
    def of(
        cls,
        *,
        flights: Flights,
        decoders: Mapping[str, Decoder],
        store: Store,
        wording: WordingSettings,
        clock: Clock,
        deaf: Callable[[], frozenset[str]] = frozenset,
    ) -> Self:
        """``deaf`` names the sources that are away at the moment."""
        folding = Folding(flights, clock)
        reading = Reading(decoders)
        telling = Telling(store, wording, flights)
        restoring = Restoring(clock, folding, reading, telling)
        snapshots = SnapshotKeeper(folding, store)
        estimator = Estimator(flights, clock)
        return cls(
            flights=flights,
            store=store,
            folding=folding,
            telling=telling,
            restoring=restoring,
            snapshots=snapshots,
            estimator=estimator,
            pipeline=Pipeline(
                clock=clock,
                store=store,
                folding=folding,
                reading=reading,
                telling=telling,
                snapshots=snapshots,
                jumps=ClockJumps(clock, store, folding, restoring),
                estimator=estimator,
                deaf=deaf,
            ),
        )
