"""What the tell command does: to the station that runs, else into its database."""

import asyncio
import getpass
import json
import urllib.error
import urllib.request
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

from groundstation.clock import SystemClock
from groundstation.config import StationSettings, load
from groundstation.errors import ConfigurationError, GroundstationError
from groundstation.flight.events import Sighted, Withdrawn
from groundstation.flight.sighting_kinds import (
    AHEAD_S,
    SightingKind,
    figures,
    in_words,
    sighting_of,
)
from groundstation.jobs.watch import PATIENCE_S, asked_state
from groundstation.station.station import database
from groundstation.store.batch import Batch
from groundstation.store.reader import Reader
from groundstation.store.sighting_rows import PersonTold
from groundstation.store.writer import Store

BASE: Final = "base"


class RefusedError(GroundstationError):
    """The station did not take it."""

    exit_code = 1


class AwayError(GroundstationError):
    """No station answers."""

    exit_code = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What was typed. ``take_back`` is the number of what counts no more."""

    what: str | None
    payload: str | None
    at: str | None
    place: str | None
    bearing_deg: float | None
    bearing_sd_deg: float | None
    elevation_deg: float | None
    note: str
    take_back: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What is needed to understand it."""

    payloads: tuple[str, ...]
    base: tuple[float, float] | None
    timezone: str
    now_utc: float


def tell_of(
    word: Told, address: str, token: str, config: Path | None, env: Mapping[str, str]
) -> str:
    """Tell it; the sentence that says what became of it. Raises ``GroundstationError``."""
    if config is None or _answers(address):
        return _over_http(word, address, token)
    return asyncio.run(_into_database(word, load(config, env)))


def _answers(address: str) -> bool:
    """Whether anything answers there, if only that it wants a token."""
    try:
        urllib.request.urlopen(f"{address.rstrip('/')}/healthz", timeout=PATIENCE_S).close()
    except urllib.error.HTTPError:
        return True
    except (OSError, ValueError):
        return False
    return True


def _over_http(word: Told, address: str, token: str) -> str:
    if word.take_back is not None:
        _post(address, token, "/api/sightings/take-back", {"number": word.take_back})
        return f"Number {word.take_back} counts no more."
    state = asked_state(address, token)
    base = state["base"]
    around = Surroundings(
        payloads=tuple(snapshot["payload"] for snapshot in state["payloads"]),
        base=None if base is None else (base["lat"], base["lon"]),
        timezone=state["timezone"],
        now_utc=datetime.fromisoformat(state["now"]).timestamp(),
    )
    payload, kind, facts, at_utc = understood(word, around)
    body: dict[str, Any] = {
        name.replace("latitude_deg", "lat").replace("longitude_deg", "lon"): value
        for name, value in facts.items()
    }
    body |= {"payload": payload, "kind": kind.value, "note": word.note}
    if at_utc is not None:
        body["at"] = datetime.fromtimestamp(at_utc, UTC).isoformat()
    kept = _post(address, token, "/api/sightings", body)
    return _kept(payload, kept["words"], kept["number"], "The station counts it.")


async def _into_database(word: Told, settings: StationSettings) -> str:
    clock = SystemClock()
    path = database(settings, clock)
    if not path.exists():
        raise ConfigurationError(f"{path} does not exist yet: the station was never run")
    around = Surroundings(
        payloads=tuple(setting.name for setting in settings.payload),
        base=None
        if settings.base is None
        else (settings.base.latitude_deg, settings.base.longitude_deg),
        timezone=settings.station.timezone,
        now_utc=clock.now_utc(),
    )
    async with Store.open(path) as store:
        seq, now, who = store.next_seq, around.now_utc, _user()
        if word.take_back is not None:
            gone = await asyncio.to_thread(_standing, path, word.take_back)
            event = Withdrawn(now_utc=now, number=word.take_back)
            person = PersonTold(payload=gone, event=event, who=who)
            await store.commit(Batch(people=((seq, person),)))
            return f"Number {word.take_back} counts no more."
        payload, kind, facts, at_utc = understood(word, around)
        try:
            sighting = sighting_of(
                kind,
                facts,
                at_utc=now if at_utc is None else at_utc,
                told_utc=now,
                number=seq,
                who=who,
                note=word.note,
            )
        except ValueError as error:
            raise ConfigurationError(f"{error}") from error
        person = PersonTold(payload=payload, event=Sighted(now_utc=now, sighting=sighting))
        await store.commit(Batch(people=((seq, person),)))
    return _kept(payload, in_words(sighting), seq, "The station counts it when it starts.")


def _standing(path: Path, number: int) -> str:
    """The payload of the sighting ``number``, where it counts."""
    found: str | None = None
    with Reader(path) as reader:
        for word in reader.told_by_people():
            match word.event:
                case Sighted(sighting=sighting) if sighting.number == number:
                    found = word.payload
                case Withdrawn() if word.event.number == number:
                    found = None
                case _:
                    continue
    if found is None:
        raise RefusedError(f"there is no sighting {number} that counts")
    return found


def understood(
    word: Told, around: Surroundings
) -> tuple[str, SightingKind, dict[str, float | None], float | None]:
    """Payload, kind, figures, and the moment (None for now). Raises ``ConfigurationError``."""
    kind = SightingKind(word.what or "")
    facts: dict[str, float | None] = {
        "bearing_deg": word.bearing_deg,
        "bearing_sd_deg": word.bearing_sd_deg,
        "elevation_deg": word.elevation_deg,
    }
    names = dict(figures(kind))
    options = {"bearing_deg": "--bearing", "elevation_deg": "--elevation"}
    for name, option in {**options, "bearing_sd_deg": "--error"}.items():
        if facts[name] is not None and name not in names:
            raise ConfigurationError(f"{option} means nothing for {kind.value}; leave it out")
    if "bearing_deg" in names and word.bearing_deg is None:
        raise ConfigurationError(f"give --bearing for {kind.value}: degrees from true north")
    if "latitude_deg" in names:
        facts |= dict(zip(("latitude_deg", "longitude_deg"), _place(word, around), strict=True))
    given: dict[str, float | None] = {
        name: value for name, value in facts.items() if value is not None
    }
    return _payload(word, around), kind, given, _moment(word.at, around)


def _payload(word: Told, around: Surroundings) -> str:
    if word.payload is None and len(around.payloads) == 1:
        return around.payloads[0]
    if word.payload not in around.payloads:
        raise ConfigurationError(f"give --payload, one of {', '.join(around.payloads)}")
    return word.payload


def _place(word: Told, around: Surroundings) -> tuple[float, float]:
    if word.place is None:
        raise ConfigurationError(
            f'give --from for {word.what}: latitude and longitude such as 47.10,20.30, or "base"'
        )
    if word.place.strip().lower() == BASE:
        if around.base is None:
            raise ConfigurationError("the station has no [base]; give --from as 47.10,20.30")
        return around.base
    try:
        lat, lon = (float(part) for part in word.place.replace(",", " ").split())
    except ValueError as error:
        raise ConfigurationError(
            f"--from {word.place!r} is no latitude and longitude such as 47.10,20.30"
        ) from error
    if not (abs(lat) <= 90.0 and abs(lon) <= 180.0):
        raise ConfigurationError(f"--from {word.place!r} is nowhere on earth")
    return lat, lon


def _moment(text: str | None, around: Surroundings) -> float | None:
    """``08:31`` is the newest such moment in the station's time zone."""
    if text is None:
        return None
    zone = ZoneInfo(around.timezone)
    latest = datetime.fromtimestamp(around.now_utc + AHEAD_S, zone)
    try:
        if "T" in text or " " in text.strip():
            moment = datetime.fromisoformat(text)
            return (moment if moment.tzinfo else moment.replace(tzinfo=zone)).timestamp()
        clock = datetime.strptime(text, "%H:%M:%S" if text.count(":") > 1 else "%H:%M").time()  # noqa: DTZ007
    except ValueError as error:
        raise ConfigurationError(
            f"--at {text!r} is no time such as 08:31 or 2026-05-16T06:31:00Z"
        ) from error
    moment = datetime.combine(latest.date(), clock, tzinfo=zone)
    if moment > latest:
        moment = datetime.combine(latest.date() - timedelta(days=1), clock, tzinfo=zone)
    return moment.timestamp()


def _post(address: str, token: str, path: str, body: dict[str, Any]) -> dict[str, Any]:
    if not address.startswith(("http://", "https://")):
        raise AwayError(f"{address} is no address of a page; give one such as http://base:8080/")
    request = urllib.request.Request(
        f"{address.rstrip('/')}{path}",
        data=json.dumps(body).encode(),
        headers={"Content-Type": "application/json"},
    )
    if token:
        request.add_header("Authorization", f"Bearer {token}")
    try:
        with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
            reply: dict[str, Any] = json.loads(answer.read())
            return reply
    except urllib.error.HTTPError as error:
        text = error.read(1_000).decode("utf-8", "replace").strip()
        hint = "; give a token by --token-env" if error.code == 401 else ""
        raise RefusedError(f"the station did not take it ({error.code}): {text}{hint}") from error
    except (OSError, ValueError) as error:
        raise AwayError(
            f"no station answers at {address} ({error}); give its --address, or --config to write"
            " it into the database"
        ) from error


def _kept(payload: str, words: str, number: int, then: str) -> str:
    return f"{payload}: {words}. Kept as number {number}. {then}"


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return ""
