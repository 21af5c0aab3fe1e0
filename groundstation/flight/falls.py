"""An ensemble that goes on from the last height, as what people saw since then asks for it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.sightings import (
    AnySighting,
    LaunchSeen,
    log_likelihood_of_places,
    log_likelihood_of_times,
)
from groundstation.flight.whole import dealt
from groundstation.physics.geodesy import Plane
from groundstation.records import PhaseChances, Progress

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Falls:
    """``n`` ways from the last fix, at the origin of ``plane``, to the ground.

    Each climbs, or floats, ``before_s`` from ``from_m`` to ``top_m`` (n,) and is carried
    ``before_m`` (2, n) meanwhile; then it falls through layers, the lowest first: ``layer_s``
    (n, k) seconds in each, at ``layer_ms`` (n, k) downwards and ``carried_ms`` (2, n, k) to the
    east and north. In the end it lies at ``lies_m`` (2, n), ``wait_s`` (n,) after the fix.
    """

    plane: Plane
    fix_utc: float
    from_m: float
    top_m: Array
    before_s: Array
    before_m: Array
    layer_s: Array
    layer_ms: Array
    carried_ms: Array
    lies_m: Array
    wait_s: Array

    @property
    def launch_utc(self) -> Array:
        return np.full(len(self.wait_s), -np.inf)

    @property
    def burst_utc(self) -> Array:
        return np.asarray(self.fix_utc + self.before_s)

    @property
    def touchdown_utc(self) -> Array:
        return np.asarray(self.fix_utc + self.wait_s)

    def at(self, moment_utc: float) -> tuple[Array, Array, Array]:
        """East, north and height at a moment after the fix; where it lies once it is down."""
        flown_s = moment_utc - self.fix_utc
        share = np.clip(flown_s / np.maximum(self.before_s, 1.0), 0.0, 1.0)
        share = np.where(self.before_s < 1.0, 1.0, share)
        fallen_s = np.maximum(flown_s - self.before_s, 0.0)[:, None]
        below_s = np.cumsum(self.layer_s, axis=1)
        above_s = below_s[:, -1:] - below_s
        spent = np.clip(fallen_s - above_s, 0.0, self.layer_s)
        height = self.from_m + share * (self.top_m - self.from_m) - (spent * self.layer_ms).sum(1)
        way = share * self.before_m + np.einsum("nk,dnk->dn", spent, self.carried_ms)
        down = flown_s >= self.wait_s
        east, north = np.where(down, self.lies_m, way)
        return east, north, height

    def progress(self, members: NDArray[np.int64], now_utc: float, *, floats: bool) -> Progress:
        """How far those ``members`` are; ``floats`` says whether what climbs no more floats."""
        down = now_utc >= self.touchdown_utc[members]
        falls = (now_utc >= self.burst_utc[members]) & ~down
        rest = 1.0 - float(down.mean()) - float(falls.mean())
        low, middle, high = np.quantile(self.at(now_utc)[2][members], (0.05, 0.5, 0.95))
        return Progress(
            chance=PhaseChances(
                ascent=0.0 if floats else rest,
                floating=rest if floats else 0.0,
                descent=float(falls.mean()),
                landed=float(down.mean()),
            ),
            height_m=float(middle),
            height_90_m=(float(low), float(high)),
        )

    def weighed(self, sightings: tuple[AnySighting, ...]) -> NDArray[np.int64] | None:
        """The members as often as what was seen since the fix lets expect them, (n,); None where
        nothing was. Before it the fixes themselves tell how it flew."""
        since = [
            one
            for one in sightings
            if one.at_utc > self.fix_utc and not isinstance(one, LaunchSeen)
        ]
        if not since:
            return None
        fits = log_likelihood_of_times(since, self) + log_likelihood_of_places(since, self)
        return dealt(np.exp(fits - fits.max()), len(fits))
