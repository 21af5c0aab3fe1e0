"""The state of a running station as lines of text."""

import json
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import click

from groundstation.alerts.quantities import (
    altitude_text,
    compass_text,
    distance_text,
    position_text,
    rate_text,
    span_text,
    time_text,
)
from groundstation.errors import GroundstationError
from groundstation.jsonout import frame_text
from groundstation.units import Units

EVERY_S: Final = 2.0  # own choice: as often as one looks
PATIENCE_S: Final = 5.0  # own choice: a station that takes longer is not well
MOST_ALERTS: Final = 4  # own choice: they fit under the rest of a small terminal
PHASES: Final = {
    "prelaunch": "waiting",
    "ascent": "▲ ascending",
    "float": "◆ floating",
    "descent": "▼ descending",
    "landed": "■ landed",
}

State = dict[str, Any]


class NoAnswerError(GroundstationError):
    """Nobody answers at the address."""

    exit_code = 1


def watch_forever(address: str, token: str, *, once: bool) -> None:
    """Write the state again and again, or ``once``. Raises ``NoAnswerError`` where nobody ever
    answers; later it says how old everything is."""
    once = once or not sys.stdout.isatty()
    state = asked_state(address, token)
    heard_s = time.monotonic()
    trouble = ""
    try:
        while True:
            lines = screen(state, time.monotonic() - heard_s, trouble)
            if once:
                click.echo("\n".join(lines))
                return
            # Home, each line to its end, and what is left of before (ECMA-48: CUP, EL, ED).
            sys.stdout.write("\x1b[H" + "".join(f"{line}\x1b[K\n" for line in lines) + "\x1b[J")
            sys.stdout.flush()
            time.sleep(EVERY_S)
            try:
                state, trouble = asked_state(address, token), ""
                heard_s = time.monotonic()
            except NoAnswerError as error:
                trouble = str(error)
    except KeyboardInterrupt:
        click.echo()


def screen(state: State, silent_s: float, trouble: str) -> list[str]:
    """Lines for a terminal. ``silent_s`` is how long ago the station answered."""
    units = Units.METRIC if state["units"] == "metric" else Units.IMPERIAL
    try:
        zone = ZoneInfo(state["timezone"])
    except (ZoneInfoNotFoundError, ValueError):
        zone = ZoneInfo("UTC")
    drift_s = silent_s * (state["speed"] or 0.0)
    lines = [f"{state['station']}  {_clock(state['now'], zone)}"]
    if trouble:
        lines.append(f"OLD: no answer for {span_text(silent_s)}. {trouble}")
    if state["rehearsal"]:
        lines.append(f"REHEARSAL, {state['speed']:g} times real time")
    lines += [f"! {text}" for text in state["problems"]]
    for payload in state["payloads"]:
        lines += ["", *_payload(payload, units, zone, drift_s), *_seen(payload, zone)]
    lines.append("")
    for source in state["sources"]:
        age = source["last_frame_age_s"]
        heard = "nothing heard" if age is None else f"heard {span_text(age + drift_s)} ago"
        lines.append(f"source {source['name']}: {source['state']}, {heard}")
    for target in state["targets"]:
        waiting = f"{target['waiting']} waiting" if target["waiting"] else "nothing waiting"
        lines.append(f"alerts to {target['name']}: {waiting}, {target['delivered']} delivered")
    lines.append("")
    for message in state["messages"][:MOST_ALERTS]:
        seen = "  (seen)" if message["seen"] else ""
        lines.append(f"{_clock(message['time'], zone)}  {message['title']}{seen}")
    return [frame_text(line.encode("utf-8", "replace")) for line in lines]


def _payload(payload: State, units: Units, zone: ZoneInfo, drift_s: float) -> Iterator[str]:
    phase = PHASES.get(str(payload["phase"]), str(payload["phase"]))
    last, landing, found = payload["last"], payload["landing"], payload["found"]
    if last is None:
        yield f"{payload['payload']}  {phase}, not heard yet"
        yield from _if_launched(payload, units, zone)
        return
    height = "height unknown" if last["altitude_m"] is None else altitude_text(
        last["altitude_m"], units
    )  # fmt: skip
    rate = payload["rate_ms"]
    moving = "" if rate is None or phase.endswith("landed") else f", {rate_text(abs(rate), units)}"
    yield f"{payload['payload']}  {phase}  {height}{moving}"
    yield f"  heard    {span_text(last['received_age_s'] + drift_s)} ago by {last['source']}"
    yield f"  is at    {position_text(last['lat'], last['lon'])}{_way(last, units)}"
    if found is not None:
        yield f"  closed   {found['condition']}, {position_text(found['lat'], found['lon'])}"
        return
    if landing is None:
        yield from _if_launched(payload, units, zone)
        return
    early, late = (_clock(when, zone) for when in landing["eta_90"])
    left_s = landing["eta_in_s"] - drift_s
    due = f"in {span_text(left_s)}" if left_s > 0.0 else f"due {span_text(-left_s)} ago"
    if payload["phase"] != "landed":
        yield f"  lands    {due}, {_clock(landing['eta'], zone)} (90 %: {early} to {late})"
    yield f"  at       {position_text(landing['lat'], landing['lon'])}{_way(landing, units)}"
    town = landing.get("town")
    if town is not None:
        yield f"  that is  {_away(town, units)} of {town['name']}"
    yield (
        f"  within   {distance_text(landing['radius_50_m'], units)} (50 %),"
        f" {distance_text(landing['radius_90_m'], units)} (90 %)"
    )


def _if_launched(payload: State, units: Units, zone: ZoneInfo) -> Iterator[str]:
    if payload["if_launched"] is None:
        return
    launch, landing = payload["if_launched"]["launch"], payload["if_launched"]["landing"]
    yield (
        f"  if launched at {_clock(launch, zone)} it lands at {_clock(landing['eta'], zone)} near"
        f" {position_text(landing['lat'], landing['lon'])}{_way(landing, units)}, within"
        f" {distance_text(landing['radius_90_m'], units)} (90 %)"
    )


def _seen(payload: State, zone: ZoneInfo) -> Iterator[str]:
    for sighting in payload["sightings"]:
        who = f", {sighting['who']}" if sighting["who"] else ""
        told_at = _clock(sighting["at"], zone)
        yield f"  told     {told_at} {sighting['words']}{who} (number {sighting['number']})"


def _way(place: State, units: Units) -> str:
    if place["distance_m"] is None:
        return ""
    return f", {_away(place, units)} of base"


def _away(place: State, units: Units) -> str:
    return f"{distance_text(place['distance_m'], units)} {compass_text(place['bearing_deg'])}"


def _clock(iso: str, zone: ZoneInfo) -> str:
    return time_text(datetime.fromisoformat(iso).timestamp(), zone)


def asked_state(address: str, token: str) -> State:
    """What a running station says of itself. Raises ``NoAnswerError``."""
    if not address.startswith(("http://", "https://")):
        raise NoAnswerError(
            f"{address} is no address of a page; give one such as http://base:8080/"
        )
    request = urllib.request.Request(f"{address.rstrip('/')}/api/state")
    if token:
        request.add_header("Authorization", f"Bearer {token}")
    try:
        with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
            state: State = json.loads(answer.read())
            return state
    except urllib.error.HTTPError as error:
        hint = "; give a token by --token-env" if error.code == 401 else ""
        raise NoAnswerError(f"{address} answers {error.code}{hint}") from error
    except (OSError, ValueError) as error:
        raise NoAnswerError(
            f"no station answers at {address} ({error}); start one, or give its --address"
        ) from error
