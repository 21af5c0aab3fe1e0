"""What messages that did not come say of a height.

A message is lost now and then anywhere, nearly always above the ceiling of the receiver, and often
on the ground, face down or under trees. Which share a tracker loses, and where its ceiling is if it
has one, are not known; both are summed over.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.courses import Courses

Array = NDArray[np.float64]

LOST: Final = ((0.05, 0.3), (0.2, 0.4), (0.4, 0.3))
"""Shares of messages that are lost in the air, each with its chance (own choice)."""

HEARD_ABOVE: Final = 0.02  # own choice: a stray fix comes through now and then
FACE_DOWN: Final = 0.4
"""How many lie so that nothing gets out, however long one waits: face down or under trees (own
choice)."""

# Common practice, no source at hand: many receivers give no fix above 18 km (60,000 ft), the limit
# of an export rule; others stop elsewhere or not at all. How often is an own choice.
COMMON_CEILING_M: Final = 18_200.0
CEILING_SD_M: Final = 300.0  # own choice: makers round it to feet or metres
HAS_COMMON: Final = 0.35  # own choice, see above
HAS_OTHER: Final = 0.15  # own choice, see above
# Own choice: anywhere between.
OTHER_M: Final = (9_000.0, 12_000.0, 15_000.0, 21_000.0, 24_000.0, 27_000.0, 30_000.0)
NO_CEILING_M: Final = 1e9  # above all that flies
ON_TIME: Final = 0.35  # own choice: so long after it was due a message is missing
MOST_DUE: Final = 60  # own choice: ten hours of messages each ten minutes


@dataclass(frozen=True, slots=True)
class Due:
    """When messages were due, seconds, and which of them came; shapes (m,)."""

    time_s: Array
    came: NDArray[np.bool_]

    @classmethod
    def of(cls, heard_s: Array, interval_s: float, until_s: float) -> "Due":
        """From when messages came, and how often they are sent, up to now."""
        rows: list[tuple[float, bool]] = []
        ends = [*heard_s[1:].tolist(), until_s + (1.0 - ON_TIME) * interval_s]
        for n, (since, until) in enumerate(zip(heard_s.tolist(), ends, strict=True)):
            last = n == len(heard_s) - 1
            steps = (until - since) / interval_s
            missed = int(steps) if last else round(steps) - 1
            apart = interval_s if last else (until - since) / max(missed + 1, 1)
            rows += [(since + apart * (k + 1), False) for k in range(min(missed, MOST_DUE))]
            if not last:
                rows.append((until, True))
        newest = rows[-MOST_DUE:]
        times = np.array([at for at, _ in newest], dtype=float)
        return cls(times, np.array([came for _, came in newest], dtype=bool))


def log_likelihood(courses: Courses, due: Due, ceiling_m: float | None) -> Array:
    """Of what came and what did not, for each flight; (n,). ``ceiling_m`` where it is known."""
    if not len(due.time_s) or due.came.all():
        return np.zeros(len(courses.top_m))
    height = courses.height_m(due.time_s)
    down = due.time_s[None] >= courses.touchdown_s[:, None]
    came, missed = down @ due.came.astype(float), down @ (~due.came).astype(float)
    hidden = np.log(FACE_DOWN) + came * np.log(HEARD_ABOVE) + missed * np.log(1.0 - HEARD_ABOVE)
    beyond = np.where(due.came, np.log(HEARD_ABOVE), np.log(1.0 - HEARD_ABOVE))
    terms = []
    for lost, chance in LOST:
        usual = np.where(due.came, np.log(1.0 - lost), np.log(lost))
        open_sky = np.log(1.0 - FACE_DOWN) + came * np.log(1.0 - lost) + missed * np.log(lost)
        ground = np.logaddexp(hidden, open_sky)
        for ceiling, has in _ceilings(ceiling_m):
            each = np.where(down, 0.0, np.where(height > ceiling, beyond, usual))
            terms.append(np.log(chance * has) + each.sum(axis=1) + ground)
    return np.asarray(np.logaddexp.reduce(np.stack(terms), axis=0))


def _ceilings(known_m: float | None) -> list[tuple[float, float]]:
    spread = ((-CEILING_SD_M, 0.25), (0.0, 0.5), (CEILING_SD_M, 0.25))
    if known_m is not None:
        return [(known_m + off, share) for off, share in spread]
    common = [(COMMON_CEILING_M + off, HAS_COMMON * share) for off, share in spread]
    other = [(height, HAS_OTHER / len(OTHER_M)) for height in OTHER_M]
    return [*common, *other, (NO_CEILING_M, 1.0 - HAS_COMMON - HAS_OTHER)]
