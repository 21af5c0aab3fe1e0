"""What is told is written once: JSON, its description and the page's types follow the records."""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Annotated, Any

import pytest
from jsonschema_rs import validator_for

from groundstation.jsonout import line
from groundstation.records import Fix, Frame
from groundstation.schema.describe import described, records_in, schemas
from groundstation.schema.encode import record_json
from groundstation.schema.fields import IfAny, Latitude, Metres, Time, TimeAhead, Untold
from groundstation.schema.javascript import types_text
from groundstation.schema.lines import LINES, fix_json, frame_json, station_json
from groundstation.schema.shape import shape
from groundstation.web import page_types
from groundstation.web.description import DESCRIPTION, RECORDS
from groundstation.web.state_api import health_json, state_json
from tests.support.web_scenario import STATION


@dataclass(frozen=True, slots=True, kw_only=True)
class Inner:
    """Inside."""

    latitude_deg: Annotated[Latitude, "Where."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outer:
    """An example."""

    time_utc: Annotated[Time, "When."]
    eta_utc: Annotated[TimeAhead | None, "Until."]
    high_m: Annotated[Metres | None, "How high."]
    inner: Annotated[tuple[Inner, ...], "Parts."]
    named: Annotated[Mapping[str, int], "Counts.", IfAny()]
    hidden: Annotated[float, Untold()] = 7.0


EXAMPLE = Outer(
    time_utc=0.0, eta_utc=60.0, high_m=math.nan, inner=(Inner(latitude_deg=47.1234567),), named={}
)


def test_a_record_is_told_by_its_types() -> None:
    assert record_json(EXAMPLE) == {
        "time": "1970-01-01T00:00:00Z",
        "eta": "1970-01-01T00:01:00Z",
        "high_m": None,
        "inner": [{"lat": 47.123457}],
    }
    assert record_json(EXAMPLE, 10.0) == {
        **record_json(EXAMPLE), "age_s": 10.0, "eta_in_s": 50.0,
    }  # fmt: skip


def test_its_types_for_scripts_are_by_hand() -> None:
    """Against what a person would write."""
    assert (
        types_text([Outer]).split("\n\n", 2)[2]
        == """/** Inside. */
export interface Inner {
  /** Where. */
  lat: number;
}

/** An example. */
export interface Outer {
  /** When. */
  time: string;
  /** Until. */
  eta: string | null;
  /** How high. */
  high_m: number | null;
  /** Parts. */
  inner: Array<Inner>;
  /** Counts. */
  named?: Record<string, number>;
}
""".replace("\n\n/** An", "\n\n/** An")
    )


def test_a_number_without_a_unit_is_refused() -> None:
    @dataclass(frozen=True)
    class Wrong:
        height: Annotated[float, "How high."]

    with pytest.raises(TypeError, match="unit"):
        shape(Wrong)


def everything() -> list[type]:
    found: list[type] = [*RECORDS, *LINES]
    for record in found:
        for one in shape(record):
            found += [inner for inner in records_in(one.kind) if inner not in found]
    return found


@pytest.mark.parametrize("record", everything(), ids=lambda one: one.__name__)
def test_every_field_says_what_it_means(record: type) -> None:
    assert record.__doc__
    assert [one.name for one in shape(record) if not described(one)] == []
    assert len({one.name for one in shape(record)}) == len(shape(record)) <= len(fields(record))


def valid(name: str, value: Any) -> None:
    schema = {"$ref": f"#/components/schemas/{name}", "components": DESCRIPTION["components"]}
    validator_for(schema).validate(value)


def test_the_state_is_as_it_is_described_and_nothing_is_left_out() -> None:
    """By a JSON Schema validator of others (2020-12), with every name that is told described."""
    state = json.loads(line(state_json(STATION)))
    valid("StationSnapshot", state)
    valid("HealthSnapshot", json.loads(line(health_json(STATION))))
    known = schemas(RECORDS)

    def look(name: str, value: Any) -> None:
        properties = known[name]["properties"]
        assert set(value) <= set(properties), name
        for key, inner in value.items():
            for part in inner if isinstance(inner, list) else [inner]:
                for target in _targets(properties[key]):
                    if isinstance(part, dict):
                        look(target, part)

    look("StationSnapshot", state)


def _targets(schema: Any) -> list[str]:
    if isinstance(schema, list):
        return [name for one in schema for name in _targets(one)]
    if not isinstance(schema, dict):
        return []
    own = [schema["$ref"].rpartition("/")[2]] if "$ref" in schema else []
    return own + [n for key in ("anyOf", "items") for n in _targets(schema.get(key))]


def test_the_types_of_the_page_are_as_the_records_are() -> None:
    assert page_types.FILE.read_text(encoding="utf-8") == page_types.text(), (
        "the records have changed; run: python -m groundstation.web.page_types"
    )


def test_what_a_broker_gets_is_as_it_is_described() -> None:
    heard = Frame(source="mast", received_utc=7.0, data=b"\xff", sent_utc=6.0, retained=True)
    fix = Fix(
        payload="kanalas-1", tracker="Q0HAB-11", source="mast", time_utc=5.0, received_utc=7.0,
        latitude_deg=47.1234567, longitude_deg=20.0, altitude_m=None,
        telemetry=(("battery_v", 3.14159265), ("odd", math.nan)),
    )  # fmt: skip
    valid("FrameTold", json.loads(line(frame_json("base", heard))))
    valid("FixTold", json.loads(line(fix_json(fix))))
    valid("StationTold", json.loads(line(station_json("base", up=False))))
    assert line(fix_json(fix)) == (
        '{"kind":"fix","time":"1970-01-01T00:00:05Z","received":"1970-01-01T00:00:07Z",'
        '"payload":"kanalas-1","tracker":"Q0HAB-11","source":"mast","lat":47.123457,"lon":20.0,'
        '"alt_m":null,"satellites":null,"telemetry":{"battery_v":3.14159265,"odd":null}}'
    )
    assert line(frame_json("base", heard)) == (
        '{"kind":"frame","station":"base","source":"mast","receiver":"",'
        '"received":"1970-01-01T00:00:07Z","data":"/w==","sent":"1970-01-01T00:00:06Z",'
        '"retained":true}'
    )
