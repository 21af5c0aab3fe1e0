"""From the settings of a source to the source."""

from groundstation.clock import Clock
from groundstation.sources.http_push import HttpPushSettings, HttpPushSource
from groundstation.sources.mqtt import MqttSettings, MqttSource
from groundstation.sources.recording_source import RecordingSettings, RecordingSource
from groundstation.sources.serial_port import SerialSettings, SerialSource
from groundstation.sources.source import Source
from groundstation.sources.tcp_lines import TcpSettings, TcpSource

SourceSettings = SerialSettings | TcpSettings | MqttSettings | HttpPushSettings | RecordingSettings


def build_source(settings: SourceSettings, clock: Clock) -> Source:
    """Make the source; nothing is opened yet. Raises ``ConfigurationError``."""
    match settings:
        case SerialSettings():
            return SerialSource(settings, clock)
        case TcpSettings():
            return TcpSource(settings, clock)
        case MqttSettings():
            return MqttSource(settings, clock)
        case HttpPushSettings():
            return HttpPushSource(settings, clock)
        case RecordingSettings():
            return RecordingSource(settings, clock)
