"""Estimates get smaller before they fall behind, and recover."""

from groundstation.station.estimator import ROUND_S, share_after


def test_a_slow_machine_gets_smaller_estimates() -> None:
    share = 1.0
    for _ in range(10):
        # What a round takes falls with the members, but for a fixed part.
        share = share_after(share, 2.0 + 8.0 * share)
    assert 2.0 + 8.0 * share <= 1.05 * ROUND_S
    assert share_after(share, 1_000.0) == 0.2
    for _ in range(20):
        share = share_after(share, 0.5)
    assert share == 1.0
