"""Sixty raw messages through check --explain, and through a configuration made of its answer."""

from pathlib import Path

import pytest

from groundstation.config import load
from groundstation.decoders.build import build_decoder
from groundstation.decoders.carried import decoded
from groundstation.jobs.explain import as_source_gives, explain
from groundstation.records import Report, Unreadable
from tests.cli.raw_messages import MESSAGES, NOW, Raw

STATION = """
[station]
data_dir = "data"
[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "Q0HAB-11"
"""
ENV = {"PUSH_TOKEN": "a long made-up token, 32 characters", "MAIL_PASSWORD": "made up"}
MAILBOX = (
    '[[source]]\nname = "x"\nkind = "mailbox"\nhost = "h"\nusername = "u"\n'
    'password = { env = "MAIL_PASSWORD" }\n'
)
LINE = '[[source]]\nname = "x"\nkind = "tcp"\nhost = "h"\nport = 1\n'
MESSAGE = '[[source]]\nname = "x"\nkind = "mqtt"\nhost = "h"\ntopics = ["t"]\n'


def advised(message: Raw) -> str:
    """The lines of configuration that the answer holds."""
    lines = list(explain(message.data, None, {}, NOW))
    if "It looks like this:" not in lines:
        return ""
    begin = lines.index("It looks like this:") + 1
    block = []
    for line in lines[begin:]:
        if not line.startswith("  "):
            break
        block.append(line)
    return "\n".join(block).replace('"NAME"', '"Q0HAB-11"')


def configured(message: Raw) -> str:
    if not message.by_hand:
        return advised(message)
    if message.by_hand.startswith("attachment"):
        return MAILBOX + message.by_hand
    return (LINE if "start" in message.by_hand else MESSAGE) + message.by_hand


@pytest.mark.parametrize("message", MESSAGES, ids=lambda one: one.name)
def test_a_message_is_read_as_it_was_meant_or_refused_with_the_reason(
    message: Raw, tmp_path: Path
) -> None:
    told = "\n".join(explain(message.data, None, {}, NOW))
    text = configured(message)
    if message.refused and not text:
        assert message.refused in told, told
        return
    assert text, told
    file = tmp_path / "station.toml"
    file.write_text(STATION + text)
    (source,) = load(file, ENV).source
    assert source.decoder is not None
    frame = as_source_gives(source, message.data, NOW)
    (read,) = decoded(build_decoder(source.decoder), frame)
    if message.refused:
        assert isinstance(read, Unreadable), text
        assert message.refused in f"{read.reason}: {read.detail}"
        return
    assert isinstance(read, Report), (read, text)
    assert read.latitude_deg == pytest.approx(message.lat, abs=2e-5), text
    assert read.longitude_deg == pytest.approx(message.lon, abs=2e-5), text
    assert read.altitude_m == pytest.approx(message.alt_m, abs=0.1), text
    assert read.time_utc == pytest.approx(message.time_utc, abs=0.5), text
    assert not read.time_unread, text
    values = dict(read.telemetry)
    for name, value in message.telemetry.items():
        assert values.get(name) == pytest.approx(value, abs=0.01), (values, text)
    assert read.tracker == message.tracker or message.tracker is None
    assert message.tracker or read.tracker.upper().startswith(
        ("Q0HAB", "300234", "KITE", "BAL1")
    ), text
    # The same answer once the station has these lines.
    again = "\n".join(explain(message.data, file, ENV, NOW))
    assert f"at {read.latitude_deg:.6f}, {read.longitude_deg:.6f}" in again
    assert "It looks like this" not in again


def test_there_are_sixty_and_most_are_to_be_read() -> None:
    assert len(MESSAGES) >= 60
    assert sum(not one.refused for one in MESSAGES) >= 54
    assert len({one.name for one in MESSAGES}) == len(MESSAGES)
