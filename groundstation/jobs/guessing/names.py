"""Which of a sender's names means what, and in which unit it is: common practice, no source."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from groundstation.decoders.angles import read_angle
from groundstation.decoders.quantities import split_unit
from groundstation.decoders.text import NumberForm, number, plain_number
from groundstation.jobs.guessing.times import TimeGuess, guess_time

LAT: Final = ("lat", "latitude", "breite", "szelesseg")
LON: Final = ("lon", "lng", "long", "longitude", "laenge", "hosszusag")
ALT: Final = ("alt", "altitude", "height", "elevation", "elev", "ele", "hgt", "msl", "gpsalt")
TIME: Final = (
    "time", "timestamp", "datetime", "ts", "utc", "epoch", "when", "at", "gpstime", "fixtime",
    "timeutc", "date", "zeit", "datum", "ido", "unix", "unixtime", "clock",
)  # fmt: skip
TRACKER: Final = (
    "tracker", "callsign", "call", "deviceid", "imei", "devid", "serial", "esn", "deveui", "id",
    "name", "device", "unit", "node", "sender", "from", "payload", "balloon", "object", "sonde",
    "dev", "beacon", "asset", "tag", "sn", "serialnumber", "terminal",
)  # fmt: skip
UNITS_IN_NAMES: Final = {
    "ft": "ft", "feet": "ft", "m": "m", "meters": "m", "metres": "m", "km": "km", "cm": "cm",
    "mm": "mm", "kmh": "km/h", "kph": "km/h", "mph": "mph", "kt": "kt", "kts": "kt",
    "knots": "kt", "kn": "kt", "ms": "m/s", "mps": "m/s", "mv": "mV", "v": "V", "volts": "V",
    "c": "degC", "f": "degF", "k": "K", "celsius": "degC", "fahrenheit": "degF", "hpa": "hPa",
    "pa": "Pa", "mbar": "mbar", "kpa": "kPa", "deg": "deg", "percent": "%", "pct": "%",
}  # fmt: skip
_LESS: Final = (
    "gateway", "gw", "rx", "receiver", "base", "station", "home", "server", "received", "accuracy",
    "acc", "error", "err", "hdop", "vdop", "agl", "ellipsoid", "hae", "baro", "max", "min",
    "target", "landing", "predicted", "burst", "launch", "prev", "last", "iridium", "network",
    "cell", "wifi", "lbs", "approx",
)  # fmt: skip
LESS: Final = frozenset(_LESS)
"""Words beside which a place or a time is another one's, or a worse one."""

COUNTED_S: Final = 30 * 86_400.0
"""Own choice: a number so near to now that it is hardly anything else than seconds since 1970."""

_DAY: Final = re.compile(r"[0-9]{2,4}[-/.][0-9]{2}[-/.][0-9]{2,4}")
_CAMEL: Final = re.compile(r"(?<=[a-z0-9])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
_SCALED: Final = {
    "e7": "1e-7 deg", "1e7": "1e-7 deg", "i": "1e-7 deg", "e6": "1e-6 deg", "1e6": "1e-6 deg",
    "micro": "1e-6 deg", "udeg": "1e-6 deg", "microdeg": "1e-6 deg", "e5": "1e-5 deg",
    "1e5": "1e-5 deg", "e4": "1e-4 deg", "mdeg": "1e-3 deg", "rad": "rad", "radians": "rad",
    "arcmin": "arcmin", "arcminutes": "arcmin", "arcsec": "arcsec", "arcseconds": "arcsec",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Leaf:
    """A value of a message: where it stands, and its text."""

    path: tuple[str, ...]
    text: str

    @property
    def words(self) -> tuple[str, ...]:
        """The words of its own name, in small letters."""
        return words_of(self.path[-1]) if self.path else ()

    @property
    def all_words(self) -> tuple[str, ...]:
        return tuple(word for key in self.path for word in words_of(key))


@dataclass(slots=True)
class Guess:
    """What was found: our names with their places, and the settings that go with them."""

    places: dict[str, tuple[str, ...]] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    time_format: str = "iso"
    utc_offset_s: float = 0.0
    numbers: NumberForm = NumberForm.POINT
    doubts: list[str] = field(default_factory=list)


def words_of(name: str) -> tuple[str, ...]:
    """``gpsLatitude_E7`` gives gps, latitude, e7."""
    parts = re.split(r"[^A-Za-z0-9]+", _CAMEL.sub(" ", name))
    return tuple(part.lower() for part in parts if part)


def assign(leaves: Sequence[Leaf], now_utc: float, *, alone: bool = False) -> Guess | None:
    """What each value means, or None where there is no latitude and longitude; with ``alone`` there
    need be none, and none is looked for."""
    guess = Guess()
    guess.numbers = _number_form(leaves)
    place = () if alone else _place(leaves, guess)
    if place is None:
        return None
    _sides(leaves, guess)
    near = [leaf for leaf in leaves if leaf.path[:-1] == place]
    ranked = [*near, *(leaf for leaf in leaves if leaf.path[:-1] != place)]
    _height(ranked, guess)
    _time(ranked, guess, now_utc)
    _tracker(leaves, guess)
    return guess


def sender_and_time(leaves: Sequence[Leaf], now_utc: float) -> Guess:
    """Who sent it, and when: all that is known of a message whose place is packed."""
    guess = Guess()
    _time(leaves, guess, now_utc)
    _tracker(leaves, guess)
    return guess


def _number_form(leaves: Sequence[Leaf]) -> NumberForm:
    """A comma in what is called a latitude or longitude is a decimal one."""
    for leaf in leaves:
        named = set(leaf.words) & {*LAT, *LON}
        if named and re.fullmatch(r"[+-]?[0-9]{1,3},[0-9]{2,}\s*[NSEWnsew]?", leaf.text.strip()):
            return NumberForm.COMMA
    return NumberForm.POINT


def _place(leaves: Sequence[Leaf], guess: Guess) -> tuple[str, ...] | None:
    """Find latitude and longitude; returns where they stand."""
    pairs: list[tuple[int, int, Leaf, Leaf, str]] = []
    for lat in leaves:
        if not means(lat, LAT) or _in_pieces(leaves):
            continue
        for lon in leaves:
            if lon.path[:-1] == lat.path[:-1] and means(lon, LON) and lon is not lat:
                unit = _angle_unit(lat, lon, guess)
                if unit is not None:
                    less = len(LESS & {*lat.all_words, *lon.all_words})
                    more = "side" in lat.words or _is_side(lat.text) or _is_side(lon.text)
                    length = len(lat.words) + len(lon.words)
                    pairs.append((100 * less + 1000 * more + length, len(pairs), lat, lon, unit))
    if pairs:
        _, _, lat, lon, unit = min(pairs, key=lambda pair: pair[:2])
        guess.places |= {"lat": lat.path, "lon": lon.path}
        if unit != "deg":
            guess.units |= {"lat": unit, "lon": unit}
        return lat.path[:-1]
    return _together(leaves, guess)


def _in_pieces(leaves: Sequence[Leaf]) -> bool:
    """Whether the minutes of an angle stand apart from its degrees, which no setting joins."""
    return any(
        leaf.words[-1:] in (("min",), ("minutes",), ("mins",), ("minute",), ("m",))
        and set(leaf.words) & {*LAT, *LON}
        for leaf in leaves
    )


def _together(leaves: Sequence[Leaf], guess: Guess) -> tuple[str, ...] | None:
    """Both in one text, or in one list."""
    for leaf in leaves:
        parts = [part for part in re.split(r"\s*[,;/]\s*|\s+", leaf.text.strip()) if part]
        words = {*leaf.words, *(words_of(leaf.path[-2]) if len(leaf.path) > 1 else ())}
        named = words & {
            "location", "position", "pos", "latlng", "latlon", "coordinates", "coord", "coords",
            "gps", "loc", "point", "place", "fix", "ll", "geo",
        }  # fmt: skip
        if named and len(parts) in (2, 3) and all(number(part) is not None for part in parts):
            guess.places |= {"lat": (*leaf.path, "0"), "lon": (*leaf.path, "1")}
            if len(parts) == 3:
                guess.places["alt_m"] = (*leaf.path, "2")
            return leaf.path
    by_list: dict[tuple[str, ...], list[Leaf]] = {}
    for leaf in leaves:
        if leaf.path and leaf.path[-1].isdigit():
            by_list.setdefault(leaf.path[:-1], []).append(leaf)
    for path, members in by_list.items():
        values = [number(member.text) for member in members[:3]]
        fine = len(values) >= 2 and all(value is not None for value in values)
        if not fine or not any("." in member.text for member in members[:2]):
            continue
        if not path or not set(words_of(path[-1])) & {
            "coordinates", "coord", "coords", "location", "position", "pos", "loc", "gps", "point",
            "latlng", "lnglat",
        }:  # fmt: skip
            continue
        first = "lon" if path[-1].lower() in ("coordinates", "lnglat") else "lat"
        first = "lon" if abs(values[0] or 0.0) > 90.0 else first
        second = "lat" if first == "lon" else "lon"
        guess.places |= {first: (*path, "0"), second: (*path, "1")}
        if len(members) >= 3:
            guess.places["alt_m"] = (*path, "2")
        guess.doubts.append(f"in the list the {first} is taken to come first")
        return path
    return None


def means(leaf: Leaf, names: Sequence[str]) -> bool:
    words = leaf.words
    if words and words[-1] in ("min", "minutes", "sec", "seconds") and len(words) > 1:
        # A part of an angle is none.
        return False
    joined = "".join(words)
    return bool(set(words) & set(names)) or joined in names or _glued(joined, names)


def _glued(joined: str, names: Sequence[str]) -> bool:
    """Names such as ``gpslat`` and ``latitudedeg``."""
    long = [name for name in names if len(name) > 2]
    return any(joined.endswith(name) or joined.startswith(f"{name}deg") for name in long)


def _is_side(text: str) -> bool:
    return text.strip().upper() in ("N", "S", "E", "W")


def _angle_unit(lat: Leaf, lon: Leaf, guess: Guess) -> str | None:
    """The unit in which both are angles, or None."""
    hint = next((_SCALED[word] for word in (*lat.words, *lon.words) if word in _SCALED), "")
    texts = (lat.text.strip(), lon.text.strip())
    if hint in ("rad", "arcmin", "arcsec"):
        return hint if _fits(texts, hint, guess) else None
    whole = all(re.fullmatch(r"[+-]?[0-9]{5,}", text) for text in texts)
    if hint and whole:
        return hint if _fits(texts, hint, guess) else None
    if _fits(texts, "deg", guess):
        return "deg"
    minutes = all(
        re.fullmatch(r"[NSEWnsew]?\s*[+-]?[0-9]{3,5}[.,][0-9]+\s*[NSEWnsew]?", text)
        for text in texts
    )
    if minutes and _fits(texts, "ddmm", guess):
        return "ddmm"
    if whole:
        for unit, other in (("1e-7 deg", "1e-6 deg"), ("1e-6 deg", "1e-7 deg"), ("1e-5 deg", "")):
            value = abs(number(texts[0]) or 0.0) * float(unit.split()[0])
            if _fits(texts, unit, guess) and value >= 10.0:
                if other and _fits(texts, other, guess):
                    guess.doubts.append(f"the position is taken as {unit}; {other} would also do")
                return unit
    return None


def _fits(texts: tuple[str, str], unit: str, guess: Guess) -> bool:
    lat = read_angle(texts[0], "lat", unit, guess.numbers)
    lon = read_angle(texts[1], "lon", unit, guess.numbers)
    if lat is None or lon is None:
        return False
    return abs(lat.degrees) <= 90.0 and abs(lon.degrees) <= 180.0


def _sides(leaves: Sequence[Leaf], guess: Guess) -> None:
    for ours, letters in (("lat_side", "NS"), ("lon_side", "EW")):
        for leaf in leaves:
            side = leaf.text.strip().upper()
            if side in (*letters, *(("NORTH", "SOUTH") if "N" in letters else ("EAST", "WEST"))):
                guess.places.setdefault(ours, leaf.path)


def unit_of(leaf: Leaf, given: Sequence[str]) -> str:
    """A unit that the name itself tells, of those that would do."""
    units = [UNITS_IN_NAMES[word] for word in leaf.words[1:] if word in UNITS_IN_NAMES]
    joined = "".join(leaf.words)
    for ending in ("feet", "ft", "kmh", "knots", "kts", "mph", "mv"):
        if joined.endswith(ending) and len(joined) > len(ending):
            units.append(UNITS_IN_NAMES[ending])
    return next((unit for unit in units if unit in given), "")


def figure(leaf: Leaf, guess: Guess) -> tuple[float | None, str]:
    figure, unit = split_unit(leaf.text)
    return number(plain_number(figure, guess.numbers)), unit


def _height(leaves: Sequence[Leaf], guess: Guess) -> None:
    if "alt_m" in guess.places:
        return
    found = [leaf for leaf in leaves if means(leaf, ALT)]
    found.sort(key=lambda leaf: len(LESS & set(leaf.words)))
    for leaf in found:
        if LESS & set(leaf.words) and len(found) > 1 and leaf is not found[0]:
            continue
        value, written = figure(leaf, guess)
        if value is None and leaf.text.strip():
            grouped = number(plain_number(split_unit(leaf.text)[0], NumberForm.POINT_GROUPED))
            if grouped is None or guess.numbers is not NumberForm.POINT:
                continue
            guess.numbers = NumberForm.POINT_GROUPED
        guess.places["alt_m"] = leaf.path
        unit = unit_of(leaf, ("ft", "m", "km", "cm", "mm"))
        if unit and unit != "m" and not written:
            guess.units["alt_m"] = unit
        if not unit and not written and leaf.text.strip():
            guess.doubts.append("the height is taken as metres")
        return


def _time(leaves: Sequence[Leaf], guess: Guess, now_utc: float) -> None:
    def rank(leaf: Leaf) -> tuple[int, int]:
        words = set(leaf.words)
        best = bool(words & {"gps", "fix", "transmit", "sent", "measured", "utc", "timestamp"})
        worse = bool(words & {"received", "server", "rx", "created", "updated", "upload"})
        return (2 * worse - best, 0)

    named = [leaf for leaf in leaves if means(leaf, TIME) and leaf.text.strip()]
    named.sort(key=rank)
    dates = [leaf for leaf in named if "date" in leaf.words and "time" not in leaf.words]
    clocks = [leaf for leaf in named if leaf not in dates]
    for leaf in clocks:
        if leaf.path in guess.places.values():
            continue
        for date in dates:
            if re.fullmatch(r"[0-9]{9,}(\.[0-9]+)?", leaf.text.strip()) or len(leaf.text) > 14:
                break
            found = guess_time(f"{date.text.strip()} {leaf.text.strip()}", now_utc)
            if found is not None:
                _took(guess, found, time=leaf.path, date=date.path)
                return
        found = guess_time(leaf.text, now_utc)
        if found is not None:
            _took(guess, found, time=leaf.path)
            return
    for leaf in dates:
        found = guess_time(leaf.text, now_utc)
        if found is not None:
            _took(guess, found, time=leaf.path)
            return
    if _parts(leaves, guess):
        return
    taken = set(guess.places.values())
    for leaf in leaves:
        # Whatever it is called: a date with a clock, a clock with colons, or what is now when it is
        # counted since 1970, is a time.
        text = leaf.text.strip()
        counts = re.fullmatch(r"[0-9]{10}(\.[0-9]+)?|[0-9]{13}", text)
        if counts and abs(float(text[:10]) - now_utc) > COUNTED_S:
            continue
        if leaf.path in taken or not (counts or re.search(r"[0-9]{2}:[0-9]{2}", text)):
            continue
        found = guess_time(text, now_utc)
        if found is not None:
            _took(guess, found, time=leaf.path)
            return
    # A date alone says nothing that the time of reception does not.
    named = [leaf for leaf in named if not _DAY.fullmatch(leaf.text.strip())]
    if named:
        guess.places["time"] = named[0].path
        guess.doubts.append(
            f"the time {named[0].text.strip()[:40]!r} is in no format that is known; give its"
            " time_format as a pattern"
        )


def _took(guess: Guess, found: TimeGuess, **places: tuple[str, ...]) -> None:
    guess.places |= places
    guess.time_format = found.time_format
    guess.utc_offset_s = found.utc_offset_s
    if found.doubt:
        guess.doubts.append(found.doubt)


def _parts(leaves: Sequence[Leaf], guess: Guess) -> bool:
    names = {
        "year": ("year", "yr", "yyyy"), "month": ("month", "mon"), "day": ("day",),
        "hour": ("hour", "hr", "hh", "h", "hours"), "minute": ("minute", "min", "mm", "minutes"),
        "second": ("second", "sec", "ss", "s", "seconds"),
    }  # fmt: skip
    found: dict[str, tuple[str, ...]] = {}
    for ours, theirs in names.items():
        for leaf in leaves:
            if leaf.words[-1:] and leaf.words[-1] in theirs and number(leaf.text) is not None:
                found.setdefault(ours, leaf.path)
    if not {"hour", "minute"} <= found.keys():
        return False
    guess.places |= found
    return True


def _tracker(leaves: Sequence[Leaf], guess: Guess) -> None:
    used = set(guess.places.values())
    for name in TRACKER:
        for leaf in leaves:
            words, joined = leaf.words, "".join(leaf.words)
            if leaf.path in used or not leaf.text.strip() or len(leaf.text) > 64:
                continue
            if LESS & set(leaf.all_words) or leaf.text in ("true", "false"):
                continue
            if name == joined or (words and words[-1] == name and name not in ("unit", "from")):
                guess.places["tracker"] = leaf.path
                return
