"""The state as JSON: complete, in station time, GeoJSON, never NaN."""

import json
import math
from dataclasses import replace
from typing import Any

import pytest

from groundstation.jsonout import line
from groundstation.schema.landing import landing_json
from groundstation.web.payload_snapshot import PayloadSnapshot
from groundstation.web.snapshot import StationSnapshot
from groundstation.web.state_api import health_json, state_json, vehicle
from tests.support.web_scenario import (
    FALLING,
    LANDING,
    NOTHING_HEARD,
    STATION,
    fix,
    landing,
    last_fix,
)

UNHEARD = PayloadSnapshot(payload="kanalas-1", instruction=NOTHING_HEARD.instruction)


def told(snapshot: StationSnapshot) -> dict[str, Any]:
    """The state as a reader gets it; NaN in it would raise."""
    result: dict[str, Any] = json.loads(line(state_json(snapshot)))
    return result


def test_times_are_text_and_ages_are_in_station_time() -> None:
    state = told(STATION)
    assert state["now"] == "2026-06-21T09:30:00Z"
    last = state["payloads"][0]["last"]
    assert (last["time"], last["age_s"]) == ("2026-06-21T09:29:45Z", 15.0)
    assert (last["received"], last["received_age_s"]) == ("2026-06-21T09:29:46Z", 14.0)
    landing = state["payloads"][0]["landing"]
    assert (landing["eta"], landing["eta_in_s"]) == ("2026-06-21T09:48:00Z", 1080.0)
    assert landing["evidence_age_s"] == 15.0
    assert state["sources"][1]["last_frame_age_s"] == 120.0
    assert state["targets"][1]["oldest_waiting_age_s"] == 140.0
    assert state["messages"][0]["age_s"] == 140.0


def test_the_landing_is_the_one_the_replay_prints() -> None:
    served = told(STATION)["payloads"][0]["landing"]
    printed = json.loads(line(landing_json(LANDING)))
    assert {key: served[key] for key in printed} == printed
    lon, lat = served["region_90"]["coordinates"][0][0]
    assert 20 < lon < 21
    assert 47 < lat < 48


def test_links_are_latitude_first() -> None:
    """RFC 5870 section 3.4.2: latitude, then longitude."""
    last = told(STATION)["payloads"][0]["last"]
    assert last["geo"] == "geo:47.213456,20.654321?q=47.213456,20.654321"
    assert "mlat=47.213456&mlon=20.654321" in last["map"]


def test_what_is_not_known_is_null() -> None:
    state = told(replace(STATION, base=None, payloads=(UNHEARD,)))
    assert state["base"] is None
    payload = state["payloads"][0]
    assert payload["phase"] == "prelaunch"
    names = (
        "last",
        "landing",
        "launch",
        "burst",
        "rate_ms",
        "since",
        "expected_burst_m",
        "planned",
    )
    assert {payload[name] for name in names} == {None}


def test_not_a_number_becomes_null() -> None:
    strange = replace(
        FALLING,
        rate_ms=math.nan,
        last=last_fix(altitude_m=math.nan, telemetry=(("battery_v", math.inf),)),
        landing=landing(radius_90_m=math.inf, eta_utc=math.nan),
    )
    payload = told(replace(STATION, payloads=(strange,), speed=math.inf))["payloads"][0]
    assert payload["rate_ms"] is None
    assert payload["last"]["altitude_m"] is None
    assert payload["last"]["telemetry"] == {"battery_v": None}
    assert payload["landing"]["radius_90_m"] is None
    assert payload["landing"]["eta_in_s"] is None


def test_rejections_are_counted_by_reason() -> None:
    assert told(STATION)["counts"] == {
        "frames": 1544,
        "fixes": 702,
        "rejected": {"duplicate": 810, "jump": 1, "no-position": 31},
    }


def test_health_is_small_and_says_what_a_monitor_needs() -> None:
    health = health_json(STATION)
    assert health["sources"] == {"mast": "running", "club": "waiting"}
    assert health["heard_age_s"] == 14.0
    assert health["outbox_waiting"] == 1
    assert health["problems"] == 2
    assert len(line(health)) < 1024
    assert health_json(replace(STATION, payloads=()))["heard_age_s"] is None


def test_vehicles_are_told_how_far_it_is() -> None:
    car = fix(payload="car", latitude_deg=47.2, longitude_deg=20.5, speed_ms=20.0)
    standing = fix(payload="bike", latitude_deg=47.2, longitude_deg=20.5, speed_ms=0.4)
    [driving, waits] = told(
        replace(STATION, vehicles=tuple(vehicle(one, STATION.payloads) for one in (car, standing)))
    )["vehicles"]
    [way] = driving["to_landing"]
    assert way["payload"] == FALLING.payload
    assert way["straight_in_s"] == pytest.approx(way["distance_m"] / 20.0, abs=1.0)
    assert waits["to_landing"][0]["straight_in_s"] is None
    nowhere = replace(FALLING, landing=None)
    alone = told(replace(STATION, payloads=(nowhere,), vehicles=(vehicle(car, (nowhere,)),)))[
        "vehicles"
    ]
    assert alone[0]["to_landing"] == []
