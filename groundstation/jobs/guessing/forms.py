"""Settings that would read a message, form by form."""

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings
from groundstation.decoders.build import DecoderSettings
from groundstation.decoders.feeds import FeedForm, FeedSettings
from groundstation.decoders.json_map import JsonSettings
from groundstation.decoders.nmea import NmeaSettings
from groundstation.decoders.pairs import PairsSettings, read_pairs
from groundstation.decoders.paths import written_path
from groundstation.jobs.guessing.columns import by_columns
from groundstation.jobs.guessing.measured import add_values
from groundstation.jobs.guessing.names import LAT, LESS, LON, TRACKER, Guess, Leaf, assign
from groundstation.jobs.guessing.prose import by_pattern
from groundstation.sources.push_body import form_of

HEIGHTS: Final = frozenset({"alt_m", "pressure_hpa"})
"""Our names of what tells a height."""

NAME: Final = "NAME"
"""Stands where a person is to write what the tracker is called."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """``kinds`` are the sources that such a message comes by, ``more`` their own settings.
    ``alone`` says that it tells a height without a place."""

    decoder: DecoderSettings
    kinds: tuple[str, ...]
    doubts: tuple[str, ...] = ()
    more: Mapping[str, str] = field(default_factory=dict)
    alone: bool = False


def proposals(data: bytes, now_utc: float) -> Iterator[Proposal]:
    """What may read ``data``, the likeliest first."""
    text = data.decode("utf-8", "replace").strip()
    if text.startswith(("{", "[")) and _json(text) is not None:
        yield Proposal(FeedSettings(form=FeedForm.GEOJSON), ("http-poll",))
        yield Proposal(FeedSettings(form=FeedForm.GEOJSON, tracker=NAME), ("http-poll",))
        for alone in (False, True):
            found = json_map(text, now_utc, alone=alone)
            if found is not None:
                yield found
        return
    if text.startswith("{"):
        # Cut off or damaged: what is left of it is not to be read as pairs.
        return
    if text.startswith("<"):
        for form in (FeedForm.KML, FeedForm.GPX):
            yield Proposal(FeedSettings(form=form), ("http-poll",))
            yield Proposal(FeedSettings(form=form, tracker=NAME), ("http-poll",))
        return
    lines = ("serial", "tcp", "udp", "file", "mqtt")
    if "$" in text:
        yield Proposal(NmeaSettings(tracker=NAME, sentences=("GGA",)), lines)
        yield Proposal(NmeaSettings(tracker=NAME, sentences=("RMC",)), lines)
        loose = NmeaSettings(tracker=NAME, sentences=("GGA", "RMC"), checksum_required=False)
        yield Proposal(loose, lines)
        yield Proposal(NmeaSettings(tracker=NAME, sentences=("GLL",)), lines)
        if _SENTENCE.search(text):
            # One without a fix, damaged or of another kind is not to be read as mere columns.
            return
    yield Proposal(AprsSettings(), ("tcp", "serial", "udp", "file"))
    yield Proposal(AprsSettings(framing=AprsFraming.AX25), ("serial", "tcp"))
    values = form_of(text)
    if values is not None:
        found = json_map(json.dumps(values), now_utc)
        if found is not None:
            yield replace(found, kinds=("http-push",))
    yield from _pairs(text, now_utc)
    for settings, doubts in by_columns(text, now_utc):
        yield Proposal(settings, lines, doubts)
    for pattern, doubts in by_pattern(text, now_utc):
        yield Proposal(pattern, ("mailbox", "mqtt", "http-push", *lines[:3]), doubts)
    yield from _pairs(text, now_utc, alone=True)


def _json(text: str) -> object:
    try:
        return json.loads(text, parse_int=str, parse_float=str, parse_constant=str)
    except (ValueError, RecursionError):
        return None


def json_map(text: str, now_utc: float, *, alone: bool = False) -> Proposal | None:
    """A map of fields for this message, or None where no position is found in it; with ``alone``
    where no height is."""
    message = _json(text)
    best: tuple[Guess, tuple[str, ...]] | None = None
    for path, record in _records(message, ()):
        leaves = list(_leaves(record, ()))
        guess = _assigned(leaves, now_utc, alone=alone)
        if guess is not None and (best is None or len(guess.places) > len(best[0].places)):
            best = (guess, path)
    if best is None:
        return None
    guess, path = best
    doubts = list(guess.doubts)
    tracker = ""
    if "tracker" not in guess.places:
        outer = outer_tracker(message)
        tracker = outer or NAME
        if outer and path:
            doubts.append(f"the tracker is named outside the list, so {outer!r} stands for it")
    return Proposal(
        JsonSettings(
            fields={name: written_path(place) for name, place in guess.places.items()},
            records=written_path(path),
            **_values(guess, tracker),
        ),
        ("mqtt", "http-push", "http-poll"),
        tuple(doubts),
        alone=alone,
    )


def leaves_of(text: str) -> list[Leaf]:
    """All values of a JSON message."""
    return list(_leaves(_json(text), ()))


def _assigned(leaves: Sequence[Leaf], now_utc: float, *, alone: bool) -> Guess | None:
    guess = assign(leaves, now_utc, alone=alone)
    if guess is None:
        return None
    add_values(leaves, guess)
    if not alone:
        return guess
    if any({*LAT, *LON} & set(leaf.all_words) for leaf in leaves):
        # There is a place in it that is not understood.
        return None
    guess.doubts.append(
        "no place is in it, so it tells a height alone; show a message that has one, too, since the"
        " same decoder is to read both"
    )
    # The height of a receiver or of its station is not the payload's.
    own = [
        place for name, place in guess.places.items()
        if name in HEIGHTS and not LESS & set(Leaf(place, "").all_words)
    ]  # fmt: skip
    return guess if own else None


def _values(guess: Guess, tracker: str) -> dict[str, Any]:
    return {
        "time_format": guess.time_format,
        "utc_offset_s": guess.utc_offset_s,
        "units": guess.units,
        "numbers": guess.numbers,
        "tracker": tracker,
    }


def outer_tracker(message: object) -> str:
    """What a message calls its sender, where that stands outside the positions."""
    if not isinstance(message, dict):
        return ""
    for name in TRACKER:
        for key, value in message.items():
            plain = re.sub(r"[^a-z0-9]", "", key.lower())
            if plain == name and isinstance(value, str) and value.strip():
                return value.strip()[:64]
    return ""


def _records(value: object, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], object]]:
    """The message itself, and objects in lists inside it, with the place of the list."""
    if isinstance(value, dict):
        if not path:
            yield (), value
        for key, inner in value.items():
            if isinstance(inner, list) and inner and isinstance(inner[0], dict | list):
                yield from _in_list(inner, (*path, key))
            elif isinstance(inner, dict) and len(path) < 6:
                yield from _records(inner, (*path, key))
    elif isinstance(value, list) and not path:
        if value and isinstance(value[0], dict | list):
            yield from _in_list(value, ())
        else:
            yield (), value


def _in_list(inner: list[Any], path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], object]]:
    if isinstance(inner[0], dict):
        yield path, inner[0]


def _leaves(value: object, path: tuple[str, ...]) -> Iterator[Leaf]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if key and '"' not in key:
                yield from _leaves(inner, (*path, key))
    elif isinstance(value, list):
        for number, inner in enumerate(value[:20]):
            # Objects in a list are records of their own.
            if not isinstance(inner, dict) or len(value) == 1:
                yield from _leaves(inner, (*path, str(number)))
    elif isinstance(value, bool):
        yield Leaf(path, "true" if value else "false")
    elif isinstance(value, str):
        inner = _json(value) if value.lstrip()[:1] in ("{", "[") else None
        if isinstance(inner, dict | list):
            yield from _leaves(inner, path)
        else:
            yield Leaf(path, value)
    elif value is None and path:
        # Its place is known by its name, and another message may fill it.
        yield Leaf(path, "")


_SENTENCE: Final = re.compile(r"\$G[A-Z][A-Z]{3},")
_SHAPES: Final = (
    ("\n", ":"), ("\n", "="), ("&", "="), (",", "="), (";", "="), (",", ":"), (";", ":"),
    (" ", "="), ("|", "="), ("|", ":"), (" ", ":"), ("\n", "\t"),
)  # fmt: skip


def _pairs(text: str, now_utc: float, *, alone: bool = False) -> Iterator[Proposal]:
    found = []
    for separator, between in _SHAPES:
        pairs = read_pairs(text, separator, between)
        names: dict[str, str] = {}
        for name, value in pairs:
            if name.strip() and len(name) <= 40:
                names.setdefault(" ".join(name.split()), value)
        if separator == " " and any(between not in part for part in text.split()):
            # What stands between would be lost, such as the unit of a height.
            continue
        if len(names) < 2 and not (names and separator == "\n"):
            continue
        leaves = [Leaf((name,), value) for name, value in names.items()]
        guess = _assigned(leaves, now_utc, alone=alone)
        if guess is None:
            continue
        tracker = "" if "tracker" in guess.places else NAME
        settings = PairsSettings(
            fields={name: ".".join(place) for name, place in guess.places.items()},
            separator=separator,
            between=between,
            **_values(guess, tracker),
        )
        kinds = ("mailbox", "mqtt", "http-push") if separator == "\n" else ("serial", "udp", "mqtt")
        found.append(Proposal(settings, kinds, tuple(guess.doubts), alone=alone))
    found.sort(key=lambda proposal: -len(getattr(proposal.decoder, "fields", ())))
    yield from found
