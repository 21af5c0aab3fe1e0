"""Launch groups left out: what is found anew is what falls were made by, and counts."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchmarks.groups_left_out import grouped, refitted, scored_with
from benchmarks.tracks import read_tracks
from groundstation.physics.fall import KINDS, STEADY, FallSamples

HEIGHTS_M = np.arange(28_000.0, 500.0, -400.0)


def drawn(seed: int, level: float) -> FallSamples:
    """A fall of a known model, as a Gaussian process over height has it."""
    rng = np.random.default_rng(seed)
    model = replace(STEADY, level=level, level_sd=0.25, slope=0.0, trend_sd=0.10, wander_sd=0.025)
    variance = np.full(len(HEIGHTS_M), 0.03**2)
    spread = model.covariance(HEIGHTS_M, HEIGHTS_M) + np.diag(variance)
    seen = rng.multivariate_normal(model.mean(HEIGHTS_M), spread)
    return FallSamples(HEIGHTS_M, seen, variance)


def test_what_falls_were_made_by_is_found_anew() -> None:
    falls = [[drawn(10 * group + n, 1.7) for n in range(8)] for group in range(3)]
    kind = refitted(falls)[0][0]
    assert kind.level == pytest.approx(1.7, abs=0.2)
    assert 0.2 <= kind.level_sd < 0.4
    assert kind.trend_sd >= 0.05
    assert kind.wander_sd <= 0.05


@pytest.mark.slow
def test_groups_are_scored_with_other_numbers(shared: Path) -> None:
    groups = list(grouped([read_tracks(shared / "flights"), read_tracks(shared / "radiosondes")]))
    assert [len(group.tracks) for group in groups] == [1, 1, 11, 2, 1]
    track = groups[2].tracks[0].every(60.0)
    quick = tuple((replace(kind, level=kind.level + 1.0), weight) for kind, weight in KINDS)
    usual, other = (scored_with(kinds, track) for kinds in (KINDS, quick))
    assert [one.checkpoint for one in usual] == [one.checkpoint for one in other]
    assert usual[0].error_m != other[0].error_m
