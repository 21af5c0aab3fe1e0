"""Telemetry of APRS (1.0.1 ch. 13): values by number, and messages that name and scale them.

``T#005,199,000,255,073,123,01101001`` holds a counter, five values and eight bits. Messages of the
sender to itself name them (PARM), give their units (UNIT), scale them by a x^2 + b x + c (EQNS),
and say which state of a bit means what its name says (BITS).
"""

import math
import re
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from groundstation.decoders.aprs.settings import TelemetryChannel
from groundstation.decoders.quantities import Conversion, conversion, name_with_unit
from groundstation.decoders.text import clean_bytes, number
from groundstation.errors import ConfigurationError

ANALOG: Final = 5  # APRS101 chapter 13
BITS: Final = 8  # APRS101 chapter 13
MOST_TRACKERS: Final = 100
"""Trackers whose names and last values are remembered, the newest heard. Own choice."""

USEFUL_S: Final = 900.0
"""How long values without a position go with the positions that follow. Own choice: they are sent
every few minutes, and what is older says little of now."""

REMEMBERED: Final = (b":PARM.", b":UNIT.", b":EQNS.", b":BITS.", b":T#")
"""What stands in frames that a decoder remembers."""

_MESSAGE: Final = re.compile(rb":([ -~]{9}):(PARM|UNIT|EQNS|BITS)\.([ -~]{0,200})")
_VALUES: Final = re.compile(rb"T#(?:[0-9]{1,5}|MIC)?,?([0-9., +-]{1,80})")

Pairs = tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Definition:
    """What a tracker says of its own telemetry; texts as sent."""

    names: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    factors: tuple[float, ...] = ()
    sense: str = ""


@dataclass(frozen=True, slots=True)
class _Held:
    definition: Definition = Definition()
    values: Pairs = ()
    at_utc: float = 0.0


class TelemetryMemory:
    """What trackers told of themselves between their positions; bounded.

    ``channels`` are those that a person has named; they go before what a tracker says. Raises
    ``ConfigurationError``.
    """

    def __init__(self, channels: Sequence[TelemetryChannel] = ()) -> None:
        self._channels: dict[int, tuple[TelemetryChannel, Conversion]] = {}
        for channel in channels:
            if not 1 <= channel.channel <= ANALOG or channel.channel in self._channels:
                raise ConfigurationError(
                    f"telemetry: channel {channel.channel} is not one of 1 to {ANALOG}, each once"
                )
            self._channels[channel.channel] = channel, conversion(channel.name, channel.unit)
        self._held: OrderedDict[str, _Held] = OrderedDict()

    def define(self, tracker: str, kind: str, text: str) -> None:
        """Take a message that names, scales or explains values."""
        held = self._of(tracker)
        known = held.definition
        parts = tuple(part.strip() for part in text.split(","))
        match kind:
            case "PARM":
                known = replace(known, names=parts[: ANALOG + BITS])
            case "UNIT":
                known = replace(known, units=parts[: ANALOG + BITS])
            case "EQNS":
                read = [number(part or "0") for part in parts[: 3 * ANALOG]]
                factors = tuple(factor for factor in read if factor is not None)
                known = replace(known, factors=factors if len(factors) == len(read) else ())
            case _:
                known = replace(known, sense=parts[0][:BITS])
        self._keep(tracker, replace(held, definition=known))

    def remember(self, tracker: str, values: Pairs, at_utc: float) -> None:
        """Take values that came without a position."""
        self._keep(tracker, replace(self._of(tracker), values=values, at_utc=at_utc))

    def waiting(self, tracker: str, now_utc: float) -> Pairs:
        """The values that a tracker told without a position, not too long ago."""
        held = self._held.get(tracker)
        if held is None or not 0.0 <= now_utc - held.at_utc <= USEFUL_S:
            return ()
        return held.values

    def named(self, tracker: str, values: Sequence[float | None], bits: str) -> Pairs:
        """Values by channel, with their names and in the units of those."""
        held = self._held.get(tracker)
        known = Definition() if held is None else held.definition
        found: dict[str, float] = {}
        for at, value in enumerate(values[:ANALOG]):
            if value is None:
                continue
            name, reading = self._value(known, at, value)
            found[name] = reading
        for at, bit in enumerate(bits[:BITS]):
            label = _part(known.names, ANALOG + at)
            if label and bit in "01":
                sense = known.sense[at : at + 1] or "1"
                found[name_with_unit(label, "", f"bit_{at + 1}")[0]] = float(bit == sense)
        return tuple(pair for pair in found.items() if math.isfinite(pair[1]))

    def _value(self, known: Definition, at: int, raw: float) -> tuple[str, float]:
        if at + 1 in self._channels:
            channel, convert = self._channels[at + 1]
            return channel.name, convert(channel.a * raw * raw + channel.b * raw + channel.c)
        a, b, c = (
            known.factors[3 * at : 3 * at + 3] if len(known.factors) >= 3 * at + 3 else (0, 1, 0)
        )
        name, convert = name_with_unit(
            _part(known.names, at), _part(known.units, at), f"analog_{at + 1}"
        )
        return name, convert(a * raw * raw + b * raw + c)

    def _of(self, tracker: str) -> _Held:
        return self._held.get(tracker, _Held())

    def _keep(self, tracker: str, held: _Held) -> None:
        self._held[tracker] = held
        self._held.move_to_end(tracker)
        if len(self._held) > MOST_TRACKERS:
            self._held.popitem(last=False)


def read_definition(info: bytes, sender: str) -> tuple[str, str, str] | None:
    """(tracker, kind, text) of a message that defines telemetry, or None for another one.

    It is sent to the tracker that it is about. Only one of the same callsign, with any SSID, is
    believed: others can't change what a tracker's values mean.
    """
    found = _MESSAGE.match(info)
    if found is None:
        return None
    tracker = clean_bytes(found[1]).upper()
    if tracker.partition("-")[0] != sender.partition("-")[0]:
        return None
    return tracker, found[2].decode(), clean_bytes(found[3])


def read_values(info: bytes) -> tuple[list[float | None], str] | None:
    """The five values and the eight bits of ``T#``, or None where it holds none.

    Values with decimals, and fewer of them than the form has, are heard and taken.
    """
    found = _VALUES.match(info)
    if found is None:
        return None
    texts = found[1].decode("ascii").split(",")
    values = [number(text) for text in texts[:ANALOG]]
    last = texts[ANALOG].strip() if len(texts) > ANALOG else ""
    bits = last[:BITS] if re.fullmatch("[01]{1,8}", last[:BITS]) else ""
    return (values, bits) if any(value is not None for value in values) else None


def _part(parts: Sequence[str], at: int) -> str:
    return parts[at] if at < len(parts) else ""
