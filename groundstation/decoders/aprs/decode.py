"""APRS packets into reports."""

from groundstation.decoders.aprs.comment import FieldReader
from groundstation.decoders.aprs.information import Told, read_information
from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings
from groundstation.decoders.ax25 import read_kiss
from groundstation.decoders.named_values import whole_satellites
from groundstation.decoders.nmea import read_sentence
from groundstation.decoders.packet import Packet
from groundstation.decoders.refusals import too_long
from groundstation.decoders.text import clean_bytes
from groundstation.decoders.tnc2 import read_line, unwrapped
from groundstation.errors import ConfigurationError
from groundstation.records import Report, Unreadable

_LARGEST_OFFSET_S = 14 * 3600.0


class AprsDecoder:
    """Reads one packet. Raises ``ConfigurationError`` for settings that cannot work.

    The tracker is the sender's callsign with its SSID, or the name of the object or item of which
    it tells; the sender then comes first in the report's path.
    """

    def __init__(self, settings: AprsSettings) -> None:
        if not abs(settings.utc_offset_s) <= _LARGEST_OFFSET_S:
            raise ConfigurationError("utc_offset_s is more than 14 hours, as no clock is")
        self._fields = FieldReader(settings.comment_fields)
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
        if packet.info.startswith(b"$"):
            return read_sentence(packet.info, received_utc, tracker=packet.source)
        information = read_information(packet, received_utc, self._utc_offset_s)
        if isinstance(information, Unreadable):
            return information
        return self._report(information, packet)

    def _report(self, information: Told, packet: Packet) -> Report:
        path = packet.path
        if information.reporter is not None:
            path = (information.reporter, *path)
        position = information.position
        comment = clean_bytes(position.comment)
        values = self._fields.read(comment)
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
