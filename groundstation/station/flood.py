"""A bound on what is kept of a source that sends rubbish as fast as it is taken.

A frame is kept whatever becomes of it; but a broken receiver, or somebody who means harm, could
fill the disk with noise. So each source may bring so much that says nothing, and so much more in
time.
What can be read is never bounded.
"""

from collections import Counter
from dataclasses import dataclass
from typing import Final

BURST_BYTES: Final = 2_000_000.0  # own choice, see ROW_BYTES
STEADY_BYTES_S: Final = 3_000.0  # own choice, see ROW_BYTES
ROW_BYTES: Final = 200
"""A quarter of a gigabyte in a day at most; an ordinary line of packets with its status texts
brings a hundredth of that. Own choices."""


@dataclass(slots=True)
class _Bucket:
    left: float = BURST_BYTES
    at_utc: float = 0.0


class Flood:
    """``left_out`` counts the frames that were not kept, by source."""

    def __init__(self) -> None:
        self.left_out: Counter[str] = Counter()
        self._buckets: dict[str, _Bucket] = {}

    def may_keep(self, source: str, size: int, now_utc: float) -> bool:
        """Whether a frame of ``size`` bytes that says nothing is to be kept."""
        bucket = self._buckets.setdefault(source, _Bucket(at_utc=now_utc))
        passed_s = max(0.0, now_utc - bucket.at_utc)
        bucket.left = min(BURST_BYTES, bucket.left + STEADY_BYTES_S * passed_s)
        bucket.at_utc = now_utc
        if bucket.left < size + ROW_BYTES:
            self.left_out[source] += 1
            return False
        bucket.left -= size + ROW_BYTES
        return True
