"""Real time for deliveries: the machine's at the start, and steady from then on."""

import time

import pytest

from groundstation.store.steady_clock import steady_utc


def test_it_tells_the_machines_time() -> None:
    assert steady_utc() == pytest.approx(time.time(), abs=600.0)


def test_a_clock_that_is_set_moves_no_delivery(monkeypatch: pytest.MonkeyPatch) -> None:
    before, passed = steady_utc(), time.monotonic()
    monkeypatch.setattr(time, "time", lambda: 0.0)
    monkeypatch.setattr(time, "monotonic", lambda: passed + 30.0)
    assert steady_utc() - before == pytest.approx(30.0, abs=1.0)
