"""Alerts that an older version put into the outbox are read and delivered by this one."""

import json
import math
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from groundstation.flight.alert_records import (
    Burst,
    Facts,
    FallingSlowly,
    Launched,
    MayLandInside,
    SignalLoss,
    SilenceCause,
    Silent,
    StationNotice,
    TouchdownSoon,
)
from groundstation.records import Place
from groundstation.store.batch import Batch
from groundstation.store.outbox import Dispatch
from groundstation.store.writer import Store
from tests.support.store_samples import message

# As the version of 2026-11-20 wrote them: numbers by name, and a note.
OLD: list[tuple[str, dict[str, Any], str, Facts]] = [
    ("launched", {}, "", Launched()),
    (
        "burst",
        {"burst_altitude_m": 30_120.5, "planned_burst_m": 30_000.0},
        "",
        Burst(altitude_m=30_120.5, planned_m=30_000.0),
    ),
    ("burst", {"burst_altitude_m": 9.0}, "", Burst(altitude_m=9.0)),
    (
        "falling-slowly",
        {"descent_rate_ms": 2.5, "planned_descent_rate_ms": 6.0},
        "",
        FallingSlowly(descent_rate_ms=2.5, planned_ms=6.0),
    ),
    ("keep-out", {"share": 0.25}, "field A/B", MayLandInside(area="field A/B", share=0.25)),
    (
        "silent",
        {"silent_s": 200.0, "expected": 0.0, "now_latitude_deg": 47.0, "now_longitude_deg": 20.0},
        "Not expected here: it should be well in reach.",
        Silent(
            silent_s=200.0,
            cause=SilenceCause.NOT_EXPECTED,
            by_now=Place(latitude_deg=47.0, longitude_deg=20.0),
        ),
    ),
    (
        "silent",
        {"silent_s": 200.0, "expected": 1.0},
        "It should be down by now, near the landing point.",
        Silent(silent_s=200.0, cause=SilenceCause.DOWN),
    ),
    (
        "touchdown-soon",
        {"remaining_s": 590.0, "lost_agl_m": 300.0, "lost_in_s": 400.0},
        "",
        TouchdownSoon(remaining_s=590.0, loss=SignalLoss(agl_m=300.0, in_s=400.0)),
    ),
    (
        "station",
        {},
        "base is up\nAll is well.\nReally.",
        StationNotice(what="base is up", more="All is well.\nReally."),
    ),
]


@pytest.mark.parametrize(("kind", "figures", "note", "facts"), OLD)
async def test_an_alert_of_an_older_version_is_delivered(
    tmp_path: Path, kind: str, figures: dict[str, float], note: str, facts: Facts
) -> None:
    path = tmp_path / "station.db"
    async with Store.open(path, ("phone",)) as store:
        await store.commit(Batch(messages=(message("a"),)))
    old = {"figures": figures, "note": note, "fix": None, "landing": None}
    with sqlite3.connect(path) as connection:
        connection.execute(
            "UPDATE alert SET kind = ?, key = ?, facts = ?",
            (kind, f"k/odd/{kind}/1", json.dumps(old)),
        )
    connection.close()
    async with Store.open(path, ("phone",)) as store:
        dispatch = await store.claim("phone")
        assert isinstance(dispatch, Dispatch)
        assert dispatch.message.alert.facts == facts
        assert dispatch.message.title == message("a").title


async def test_a_number_that_was_missing_is_missing(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    async with Store.open(path, ("phone",)) as store:
        await store.commit(Batch(messages=(message("a"),)))
    old: dict[str, object] = {"figures": {}, "note": "", "fix": None, "landing": None}
    with sqlite3.connect(path) as connection:
        connection.execute(
            "UPDATE alert SET kind = 'falling-slowly', facts = ?", (json.dumps(old),)
        )
    connection.close()
    async with Store.open(path, ("phone",)) as store:
        dispatch = await store.claim("phone")
        assert isinstance(dispatch, Dispatch)
        told = dispatch.message.alert.facts
    assert isinstance(told, FallingSlowly)
    assert math.isnan(told.descent_rate_ms)
    assert told.planned_ms is None
