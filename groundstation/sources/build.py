"""From the settings of a source to the source."""

from typing import Final

from groundstation.clock import Clock
from groundstation.sources.command import CommandSettings, CommandSource
from groundstation.sources.gpsd import GpsdSettings, GpsdSource
from groundstation.sources.growing_file import FileSettings, FileSource
from groundstation.sources.http_poll import HttpPollSettings, HttpPollSource
from groundstation.sources.http_push import HttpPushSettings, HttpPushSource
from groundstation.sources.mailbox import MailboxSettings, MailboxSource
from groundstation.sources.mqtt import MqttSettings, MqttSource
from groundstation.sources.pace import Pace
from groundstation.sources.recording_source import RecordingSettings, RecordingSource
from groundstation.sources.serial_port import SerialSettings, SerialSource
from groundstation.sources.source import Source
from groundstation.sources.supervisor import BackoffSettings
from groundstation.sources.tcp_lines import TcpSettings, TcpSource
from groundstation.sources.tcp_listen import TcpListenSettings, TcpListenSource
from groundstation.sources.udp import UdpSettings, UdpSource

DEVICE_AGAIN_S: Final = 3.0  # own choice: a plug that was pulled is back soon

SourceSettings = (
    SerialSettings
    | TcpSettings
    | MqttSettings
    | HttpPushSettings
    | HttpPollSettings
    | MailboxSettings
    | GpsdSettings
    | RecordingSettings
    | UdpSettings
    | TcpListenSettings
    | FileSettings
    | CommandSettings
)


_OWN: Final = (
    SerialSettings | HttpPushSettings | UdpSettings | TcpListenSettings | FileSettings
    | CommandSettings
)  # fmt: skip


def build_source(settings: SourceSettings, clock: Clock, pace: Pace | None = None) -> Source:
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
        case HttpPollSettings():
            return HttpPollSource(settings, clock, pace or Pace())
        case MailboxSettings():
            return MailboxSource(settings, clock, pace or Pace())
        case GpsdSettings():
            return GpsdSource(settings, clock)
        case RecordingSettings():
            return RecordingSource(settings, clock)
        case UdpSettings():
            return UdpSource(settings, clock)
        case TcpListenSettings():
            return TcpListenSource(settings, clock)
        case FileSettings():
            return FileSource(settings, clock)
        case CommandSettings():
            return CommandSource(settings, clock)


def backoff_of(settings: SourceSettings) -> BackoffSettings:
    """How long to wait between tries: a device costs nobody anything and is soon looked for again,
    a server of others is left in peace for longer."""
    if isinstance(settings, _OWN):
        return BackoffSettings(most_s=DEVICE_AGAIN_S)
    return BackoffSettings()
