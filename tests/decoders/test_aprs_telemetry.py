"""Telemetry and weather of APRS: kept by name and unit, with the positions they go with."""

import math
from typing import Any

import aprslib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.aprs import telemetry
from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsSettings, TelemetryChannel
from groundstation.errors import ConfigurationError
from groundstation.records import Report, Unreadable
from groundstation.units import KNOT_MS

NOW = 1_778_922_000.0
HEAD = b"Q0HAB-11>APZ001:"
PLACE = b"!4903.50N/07201.75WO"
# PARM, UNIT, EQNS and BITS in the form of the examples of ch. 13 (from memory), names of our own.
DEFINED = (
    b":Q0HAB-11 :PARM.Battery,Box,Pwr,Light,Count,Heater,Cut",
    b":Q0HAB-11 :UNIT.mV,deg.F,Watt,,pkts",
    b":Q0HAB-11 :EQNS.0,20,0,0,0.5,-40,0,1,0,0,1,0,0.01,0,3",
    b":Q0HAB-11 :BITS.10111111,An invented balloon",
)


def fed(decoder: AprsDecoder, *infos: bytes, head: bytes = HEAD, at: float = NOW) -> list[Any]:
    return [decoder.decode(head + info, at)[0] for info in infos]


def told(*infos: bytes, settings: AprsSettings | None = None) -> dict[str, float]:
    last = fed(AprsDecoder(settings or AprsSettings()), *infos)[-1]
    assert isinstance(last, Report), last
    return dict(last.telemetry)


def test_values_are_kept_with_names_and_units() -> None:
    values = told(*DEFINED, b"T#005,199,000,255,073,123,01101001", PLACE)
    assert values == pytest.approx(
        {
            "battery_v": 3.98,
            "box_c": -40.0,
            "pwr_watt": 255.0,
            "light": 73.0,
            "count_pkts": 0.01 * 123**2 + 3.0,
            "heater": 0.0,
            "cut": 0.0,
        }
    )


def test_values_without_a_definition_are_kept_by_number() -> None:
    values = told(b"T#005,199,000,255,073,123,01101001", PLACE)
    assert values == {f"analog_{n}": v for n, v in enumerate((199, 0, 255, 73, 123), 1)}


def test_values_go_with_positions_for_a_while_and_only_with_their_own_trackers() -> None:
    decoder = AprsDecoder(AprsSettings())
    fed(decoder, b"T#005,199,000,255,073,123,00000000")
    (other,) = fed(decoder, PLACE, head=b"Q0HAB-12>APZ001:")
    assert other.telemetry == ()
    (soon,) = fed(decoder, PLACE, at=NOW + telemetry.USEFUL_S)
    assert dict(soon.telemetry)["analog_1"] == 199.0
    (late,) = fed(decoder, PLACE, at=NOW + telemetry.USEFUL_S + 1.0)
    assert late.telemetry == ()


def test_nobody_else_changes_what_values_mean() -> None:
    decoder = AprsDecoder(AprsSettings())
    fed(decoder, DEFINED[0], head=b"Q0ELSE-1>APZ001:")
    fed(decoder, b"T#005,199,0,0,0,0,00000000")
    (found,) = fed(decoder, PLACE)
    assert dict(found.telemetry)["analog_1"] == 199.0


def test_a_person_names_channels_that_the_tracker_does_not() -> None:
    channel = TelemetryChannel(channel=2, name="temperature_c", unit="degF", b=0.5, c=-40.0)
    values = told(b"T#1,7,160", PLACE, settings=AprsSettings(telemetry=(channel,)))
    assert values == pytest.approx({"analog_1": 7.0, "temperature_c": 40.0 / 9.0})
    for wrong in ((channel, channel), (TelemetryChannel(channel=6, name="a"),)):
        with pytest.raises(ConfigurationError, match="channel"):
            AprsDecoder(AprsSettings(telemetry=wrong))


def test_what_is_between_positions_is_no_position_and_says_where_it_goes() -> None:
    for info in (*DEFINED, b"T#005,199,000,255,073,123,01101001", b"_10090556c220s004g005t077"):
        (found,) = fed(AprsDecoder(AprsSettings()), info)
        assert isinstance(found, Unreadable)
        assert "goes with the positions that follow" in found.detail


@given(values=st.lists(st.integers(0, 8280), min_size=2, max_size=6), bits=st.integers(0, 255))
def test_base_91_as_aprslib_reads_it(values: list[int], bits: int) -> None:
    whole = [*values, bits] if len(values) == 6 else values
    text = "".join(chr(33 + v // 91) + chr(33 + v % 91) for v in whole)
    packet = HEAD + PLACE + f"hello|{text}|".encode()
    expected = aprslib.parse(packet.decode())["telemetry"]
    (found,) = AprsDecoder(AprsSettings()).decode(packet, NOW)
    assert isinstance(found, Report)
    assert list(dict(found.telemetry).values()) == expected["vals"][: len(values) - 1]
    if len(values) == 6:
        named = told(DEFINED[0], packet.removeprefix(HEAD))
        assert named["heater"] == float(expected["bits"][0])
        assert named["cut"] == float(expected["bits"][1])


@given(
    wind=st.integers(1, 360),
    speed=st.integers(0, 199),
    temperature=st.integers(-99, 150),
    humidity=st.integers(0, 99),
    pressure=st.integers(10, 10_900),
    rain=st.integers(0, 999),
)
def test_weather_as_aprslib_reads_it(
    wind: int, speed: int, temperature: int, humidity: int, pressure: int, rain: int
) -> None:
    text = (
        f"{wind:03d}/{speed:03d}g{speed:03d}t{temperature:03d}r{rain:03d}"
        f"h{humidity:02d}b{pressure:05d}hello"
    )
    packet = f"Q0HAB-11>APZ001:!4903.50N/07201.75W_{text}"
    expected = aprslib.parse(packet)["weather"]
    (found,) = AprsDecoder(AprsSettings()).decode(packet.encode(), NOW)
    assert isinstance(found, Report)
    assert found.comment == "hello"
    assert found.course_deg is None
    values = dict(found.telemetry)
    # aprslib takes the wind for course and speed in knots; a weather report has miles an hour.
    assert values["wind_from_deg"] == aprslib.parse(packet)["course"] % 360.0
    assert values["wind_speed_ms"] == pytest.approx(speed * 0.44704)
    assert values["wind_gust_ms"] == pytest.approx(expected["wind_gust"])
    assert values["temperature_c"] == pytest.approx(expected["temperature"])
    assert values["humidity_percent"] == expected["humidity"]
    assert values["pressure_hpa"] == pytest.approx(expected["pressure"])
    assert values["rain_hour_mm"] == pytest.approx(expected["rain_1h"])


def test_weather_without_a_position_goes_with_the_next() -> None:
    values = told(b"_10090556c220s004g005t-12h00b10132", PLACE)
    assert values["wind_speed_ms"] == pytest.approx(1.78816)
    assert values["temperature_c"] == pytest.approx(-24.4444, abs=1e-3)
    assert values["humidity_percent"] == 100.0
    assert values["pressure_hpa"] == pytest.approx(1013.2)


def test_what_a_weather_station_could_not_measure_is_left_out() -> None:
    values = told(b"!4903.50N/07201.75W_.../...g...t077r...")
    assert values == pytest.approx({"temperature_c": 25.0})


def test_wind_of_a_compressed_weather_station() -> None:
    (found,) = fed(AprsDecoder(AprsSettings()), b"=/5L!!<*e7_7P[g005t077")
    assert isinstance(found, Report)
    assert found.course_deg is None
    assert dict(found.telemetry)["wind_from_deg"] == 88.0
    assert dict(found.telemetry)["wind_speed_ms"] == pytest.approx(36.23 * KNOT_MS, abs=0.01)


@given(
    infos=st.lists(
        st.one_of(
            st.binary(max_size=60).map(lambda raw: b"T#" + raw),
            st.sampled_from((b"PARM", b"UNIT", b"EQNS", b"BITS")).flatmap(
                lambda kind: st.binary(max_size=80).map(
                    lambda raw: b":Q0HAB-11 :" + kind + b"." + raw
                )
            ),
            st.text("0123456789.,eE-+", max_size=60).map(
                lambda raw: b":Q0HAB-11 :EQNS." + raw.encode()
            ),
            st.binary(max_size=40).map(lambda raw: b"_" + raw),
        ),
        max_size=6,
    )
)
def test_any_telemetry_moves_no_position_and_is_finite(infos: list[bytes]) -> None:
    decoder = AprsDecoder(AprsSettings())
    fed(decoder, *infos, b"T#1,99999,2,3,4,5,11111111")
    (found,) = fed(decoder, PLACE)
    (alone,) = fed(AprsDecoder(AprsSettings()), PLACE)
    assert isinstance(found, Report)
    assert (found.latitude_deg, found.longitude_deg) == (alone.latitude_deg, alone.longitude_deg)
    assert all(math.isfinite(value) for _, value in found.telemetry)
    assert all(name.isidentifier() and name.islower() for name, _ in found.telemetry)


def test_what_is_remembered_is_bounded() -> None:
    decoder = AprsDecoder(AprsSettings())
    for number in range(3 * telemetry.MOST_TRACKERS):
        fed(decoder, b"T#1,2,3,4,5,6", head=f"Q{number}A>APZ001:".encode())
    assert len(decoder._memory._held) == telemetry.MOST_TRACKERS
