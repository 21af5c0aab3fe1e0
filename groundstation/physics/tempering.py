"""Draws from what evidence leaves of a prior, step by step.

All unknowns are written as standard normals, so the prior is one for whatever is asked. The
evidence is let in by degrees, each as strong as half of the members can bear; after each the
members are drawn anew by their weight and moved about (Del Moral, Doucet and Jasra 2006, J. R.
Statist. Soc. B 68, 411).
"""

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.draws import even_normals

Array = NDArray[np.float64]
LogLikelihood = Callable[[Array], Array]

KEPT: Final = 0.5  # own choice: half the weight at each step (common practice)
MOVES: Final = 2  # own choice: see LAST_MOVES
LAST_MOVES: Final = 5  # own choice: so that copies come apart again
LEAST_STEP: Final = 1e-3  # own choice, so that it ends
MOST_STEPS: Final = 14  # own choice, so that it ends
# Roberts, Gelman and Gilks 1997, Ann. Appl. Probab. 7: the random walk that mixes best.
WALK: Final = 2.38
# Half as far, in turn, since the posterior is often bent.
SCALES: Final = (1.0, 0.5)


def spread_normals(count: int, columns: int, rng: np.random.Generator) -> Array:
    """Standard normals (count, columns), each column evenly over its distribution."""
    ranks = np.array([rng.permutation(count) for _ in range(columns)])
    normals: Array = even_normals(count)[ranks]
    return normals.T


def tempered(start: Array, log_likelihood: LogLikelihood, rng: np.random.Generator) -> Array:
    """Members (n, d) of the posterior of standard normals ``start`` (n, d).

    ``log_likelihood`` takes (m, d) and gives (m,), minus infinity for what cannot be.
    """
    members = start
    likely = log_likelihood(members)
    power = 0.0
    for turn in range(MOST_STEPS):
        rest = 1.0 - power
        step = rest if turn == MOST_STEPS - 1 else _bearable(likely, rest)
        power += step
        weight = np.cumsum(_weights(likely, step))
        marks = (rng.uniform() + np.arange(len(members))) / len(members)
        picked = np.minimum(np.searchsorted(weight, marks), len(members) - 1)
        members, likely = members[picked], likely[picked]
        last = power >= 1.0 - 1e-9
        for n in range(LAST_MOVES if last else MOVES):
            members, likely = _moved(members, likely, power, n, log_likelihood, rng)
        if last:
            break
    return members


def _moved(
    members: Array,
    likely: Array,
    power: float,
    turn: int,
    log_likelihood: LogLikelihood,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """One random walk, of the shape that the members have, taken where it is good enough."""
    count, columns = members.shape
    shape = np.cov(members.T) + 1e-4 * np.eye(columns)
    length = WALK / np.sqrt(columns) * SCALES[turn % len(SCALES)]
    away = rng.standard_normal((count, columns)) @ np.linalg.cholesky(shape).T
    tried = members + length * away
    then = log_likelihood(tried)
    gain = power * (then - likely) + ((members**2).sum(axis=1) - (tried**2).sum(axis=1)) / 2.0
    taken = np.log(rng.uniform(size=count)) < gain
    return np.where(taken[:, None], tried, members), np.where(taken, then, likely)


def _weights(likely: Array, step: float) -> Array:
    weight = np.exp(step * (likely - likely.max()))
    return np.asarray(weight / weight.sum())


def _bearable(likely: Array, most: float) -> float:
    """The largest step after which weights are worth half of the members."""

    def worth(step: float) -> float:
        return float(1.0 / (_weights(likely, step) ** 2).sum()) / len(likely)

    if worth(most) >= KEPT:
        return most
    low, high = 0.0, most
    for _ in range(30):
        middle = (low + high) / 2.0
        low, high = (middle, high) if worth(middle) >= KEPT else (low, middle)
    return max(low, min(LEAST_STEP, most))
