"""What a silence likely was. Horizons are by hand: (4/3 R = 8,495 km), ITU-R P.310."""

from dataclasses import replace

import numpy as np
import pytest

from groundstation.debrief.silences import silences
from groundstation.flight.settings import (
    BaseSettings,
    FlightSettings,
    TrackerKind,
    TrackerSettings,
)
from tests.support.flown import Flown, flight_log

TIMES = np.arange(0.0, 9_000.0, 60.0)
HEIGHTS = np.interp(
    TIMES, [0.0, 300.0, 6_000.0, 8_700.0, 9_000.0], [85.0, 85.0, 30_000.0, 85.0, 85.0]
)
BASE = BaseSettings(latitude_deg=47.1, longitude_deg=20.3, altitude_m=85.0)


def settings(**tracker: object) -> FlightSettings:
    one = TrackerSettings(id="Q0HAB-11", **tracker)  # type: ignore[arg-type]
    return FlightSettings(payload="kanalas-1", trackers=(one,), base=BASE)


def without(first_s: float, last_s: float, east_deg: float = 0.3) -> Flown:
    """60 s apart, but for nothing between these times; drifts to the east."""
    kept = (first_s > TIMES) | (last_s < TIMES)
    lon = 20.3 + east_deg * TIMES / 9_000.0
    t = 1_778_920_200.0 + TIMES[kept]
    return Flown(t, np.full(kept.sum(), 47.1), lon[kept], HEIGHTS[kept])


@pytest.mark.parametrize(
    ("flown", "known", "others", "says"),
    [
        # From 18 km up to 18 km down, with a receiver whose ceiling is known or not.
        (without(3_750, 7_080), settings(ceiling_m=18_000.0), 0, "of its receiver, 18 km"),
        (without(3_750, 7_080), settings(), 5, "a receiver's ceiling, likely"),
        (without(3_750, 7_080), None, 0, "a receiver's ceiling, likely"),
        # 2 degrees of longitude are 151 km, where base sees it down to 151² / (2 · 8,495) = 1.3 km.
        (without(8_520, 8_900, 2.0), settings(), 0, "near the horizon of base"),
        (without(2_000, 2_600, 2.0), settings(), 0, "nothing else was heard either"),
        (without(2_000, 2_600), settings(kind=TrackerKind.CELLULAR), 0, "telephones"),
        (without(2_000, 2_600), settings(), 12, "12 other packets were heard meanwhile"),
    ],
)  # fmt: skip
def test_a_silence_is_explained(
    flown: Flown, known: FlightSettings | None, others: int, says: str
) -> None:
    [one] = silences(flight_log(flown), known, lambda _from, _to: others)
    assert says in one.why
    assert one.lasted_s >= 300.0


def test_one_without_a_ceiling_is_not_above_it() -> None:
    """The next packet is another tracker's, whose receiver has no ceiling."""
    log = flight_log(without(3_750, 7_080))
    late = tuple(
        replace(one, tracker="Q0HAB-12") if one.time_utc > log.fixes[0].time_utc + 5_000.0 else one
        for one in log.fixes
    )
    both = replace(
        settings(ceiling_m=18_000.0),
        trackers=(
            TrackerSettings(id="Q0HAB-11", ceiling_m=18_000.0),
            TrackerSettings(id="Q0HAB-12"),
        ),
    )
    [one] = silences(replace(log, fixes=late), both)
    assert "18 km" not in one.why


def test_what_came_late_is_no_silence() -> None:
    log = flight_log(without(0.0, 0.0))
    assert list(silences(log)) == []
    late = replace(
        log, fixes=tuple(replace(one, received_utc=log.fixes[-1].time_utc) for one in log.fixes)
    )
    assert list(silences(late)) == []
