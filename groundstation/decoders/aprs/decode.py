"""APRS packets into reports."""

from groundstation.decoders.aprs.comment import FieldReader
from groundstation.decoders.aprs.information import Told, read_information
from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings
from groundstation.decoders.aprs.telemetry import (
    ANALOG,
    TelemetryMemory,
    read_definition,
    read_values,
)
from groundstation.decoders.aprs.weather import read_weather
from groundstation.decoders.aprs_packet import Packet
from groundstation.decoders.ax25 import read_kiss
from groundstation.decoders.named_values import whole_satellites
from groundstation.decoders.nmea import read_sentence
from groundstation.decoders.refusals import too_long
from groundstation.decoders.text import clean_bytes
from groundstation.decoders.tnc2 import read_line, unwrapped
from groundstation.errors import ConfigurationError
from groundstation.records import Reason, Report, Unreadable

_LARGEST_OFFSET_S = 14 * 3600.0  # no zone is further from UTC


class AprsDecoder:
    """Reads one packet. Raises ``ConfigurationError`` for settings that cannot work.

    The tracker is the sender's callsign with its SSID, or the name of the object or item of which
    it tells; the sender then comes first in the report's path. Telemetry that comes without a
    position goes with the tracker's next ones: names, scales and last values of a bounded number
    of trackers are remembered for that.
    """

    def __init__(self, settings: AprsSettings) -> None:
        if not abs(settings.utc_offset_s) <= _LARGEST_OFFSET_S:
            raise ConfigurationError("utc_offset_s is more than 14 hours, as no clock is")
        self._fields = FieldReader(settings.comment_fields)
        self._memory = TelemetryMemory(settings.telemetry)
        self._utc_offset_s = settings.utc_offset_s
        self._read = read_kiss if settings.framing is AprsFraming.AX25 else read_line

    def decode(self, data: bytes, received_utc: float) -> tuple[Report | Unreadable, ...]:
        return (too_long(data) or self._decode(data, received_utc),)

    def _decode(self, data: bytes, received_utc: float) -> Report | Unreadable:
        packet = self._read(data)
        if isinstance(packet, Packet):
            packet = unwrapped(packet)
        if isinstance(packet, Unreadable):
            return packet
        beside = self._beside(packet, received_utc)
        if beside is not None:
            return beside
        if packet.info.startswith(b"$"):
            return read_sentence(packet.info, received_utc, tracker=packet.source)
        information = read_information(packet, received_utc, self._utc_offset_s)
        if isinstance(information, Unreadable):
            return information
        return self._report(information, packet, received_utc)

    def _beside(self, packet: Packet, received_utc: float) -> Unreadable | None:
        """Take note of what a tracker tells between its positions."""
        info = packet.info
        if definition := read_definition(info, packet.source):
            tracker, kind, text = definition
            self._memory.define(tracker, kind, text)
            return _kept(f"This tells how to read the telemetry of {tracker}")
        if found := read_values(info):
            pairs = self._memory.named(packet.source, *found)
            self._memory.remember(packet.source, pairs, received_utc)
            return _kept("This is telemetry without position")
        if pairs := read_weather(info) or ():
            self._memory.remember(packet.source, pairs, received_utc)
            return _kept("This is a weather report without position")
        return None

    def _telemetry(self, information: Told, received_utc: float) -> dict[str, float]:
        values = dict(self._memory.waiting(information.tracker, received_utc))
        _, *channels = information.position.base91_telemetry or (0,)
        bits = ""
        if len(channels) > ANALOG:
            # The first bit is the lowest: common practice, from memory.
            bits = f"{channels[ANALOG] & 0xFF:08b}"[::-1]
        values |= self._memory.named(
            information.tracker, [float(channel) for channel in channels[:ANALOG]], bits
        )
        return values | dict(information.position.measured)

    def _report(self, information: Told, packet: Packet, received_utc: float) -> Report:
        path = packet.path
        if information.reporter is not None:
            path = (information.reporter, *path)
        position = information.position
        comment = clean_bytes(position.comment)
        values = self._telemetry(information, received_utc) | self._fields.read(comment)
        satellites = whole_satellites(values.pop("satellites", None))
        return Report(
            tracker=information.tracker,
            latitude_deg=position.latitude_deg,
            longitude_deg=position.longitude_deg,
            altitude_m=position.altitude_m,
            time_utc=information.time_utc,
            time_unread=information.time_unread,
            uncertainty_m=position.half_width_m,
            course_deg=position.course_deg,
            speed_ms=position.speed_ms,
            satellites=satellites,
            telemetry=tuple(values.items()),
            comment=comment,
            path=path,
        )


def _kept(what: str) -> Unreadable:
    return Unreadable(
        reason=Reason.NO_POSITION, detail=f"{what}; it goes with the positions that follow."
    )
