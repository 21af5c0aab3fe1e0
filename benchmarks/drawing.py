"""Error and region against height, each flight and pooled, as a picture."""

import statistics
from collections.abc import Sequence
from pathlib import Path

import matplotlib

from benchmarks import cases
from benchmarks.scores import Score, scored
from benchmarks.tracks import Track

EVERY_S = 10.0
HEIGHTS_M = (1_000, 2_000, 3_000, 5_000, 7_000, 10_000, 12_500, 15_000, 17_500, 20_000, 25_000)


def draw(tracks: Sequence[Track], out: Path) -> None:
    """Write the picture; its form follows the file's ending."""
    matplotlib.use("Agg")
    from matplotlib import pyplot as plt  # noqa: PLC0415 - after the choice of its output

    figure, (left, right) = plt.subplots(1, 2, figsize=(11, 5), sharex=True)
    pooled: dict[int, list[Score]] = {}
    for track in tracks:
        scores = _along(track.every(EVERY_S))
        heights = sorted(scores)
        left.plot(
            [h / 1000 for h in heights],
            [scores[h].error_m / 1000 for h in heights],
            lw=0.8,
            alpha=0.6,
            label=track.name,
        )
        right.plot(
            [h / 1000 for h in heights], [scores[h].area_km2 for h in heights], lw=0.8, alpha=0.6
        )
        for height, score in scores.items():
            pooled.setdefault(height, []).append(score)
    at = sorted(pooled)
    middle = [statistics.median(one.error_m for one in pooled[h]) / 1000 for h in at]
    left.plot([h / 1000 for h in at], middle, "k", lw=2.5, label="median")
    area = [statistics.median(one.area_km2 for one in pooled[h]) for h in at]
    right.plot([h / 1000 for h in at], area, "k", lw=2.5)
    left.set(ylabel="error, km", yscale="log", title=f"{len(tracks)} recorded flights")
    right.set(ylabel="area of the 90 % region, km²", yscale="log", title="fixes every 10 s")
    for axes in (left, right):
        axes.set(xlabel="height above the landing, km")
        axes.grid(alpha=0.3)
    left.legend(fontsize=7, ncols=2)
    figure.tight_layout()
    figure.savefig(out, dpi=110)


def _along(track: Track) -> dict[int, Score]:
    found = {}
    for height in HEIGHTS_M:
        at = track.below(float(height))
        if at is None:
            continue
        landing = cases.estimate_at(track, at)
        if landing is not None:
            found[height] = scored(
                landing,
                track.landing,
                track.touchdown_s,
                checkpoint=str(height),
                low=height <= cases.LOW_M,
            )
    return found
