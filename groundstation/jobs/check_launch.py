"""``groundstation check --launch``: whether a running station is ready for the launch."""

from collections.abc import Callable, Iterator
from typing import Any, Final

from groundstation.alerts.quantities import span_text
from groundstation.jobs.check import Findings
from groundstation.jobs.watch import asked_state
from groundstation.jsonout import frame_text

FRESH_S: Final = 300.0  # own choice: a tracker on the ground sends more often
BY_HAND: Final = (
    "lines of the parachute free, every knot looked at twice, boxes closed and named",
    "cameras running, batteries fresh",
    "sky and downwind clear of power lines, tall things, crowds and aircraft",
    "gas: outdoors, no flame or spark, nobody breathes it; neck tied and taped after weighing",
    "notice filed where that is asked for, and what came back kept to",
)
"""Common practice, no source."""


def check_launch(address: str, token: str, say: Callable[[str], object]) -> bool:
    """Say a line for each thing, and whether all that can be seen from here is well. Raises
    ``NoAnswerError`` where no station answers."""
    state = asked_state(address, token)
    report = Findings(lambda line: say(frame_text(line.encode("utf-8", "replace"))))
    for good, what, seen in _looked_at(state):
        (report.good if good else report.bad)(what, seen)
    for text in BY_HAND:
        say(f"look  {text}")
    return report.passed


def _looked_at(state: dict[str, Any]) -> Iterator[tuple[bool, str, str]]:
    if state["rehearsal"]:
        yield False, "station", "this is a rehearsal; start the station itself"
    for payload in state["payloads"]:
        for tracker in payload["trackers"]:
            yield _tracker(tracker)
        if payload["phase"] not in ("prelaunch", "landed"):
            yield False, payload["payload"], f"it is taken to be in flight ({payload['phase']})"
        telemetry = (payload["last"] or {}).get("telemetry", {})
        for name, value in telemetry.items():
            if "batt" in name and value is not None:
                yield True, f"battery of {payload['payload']}", f"{name} {value:g}; is that enough?"
    for problem in state["problems"]:
        yield False, "station", problem
    if not state["problems"]:
        yield True, "station", "clock, disk and sources have nothing to say"
    if not state["targets"]:
        yield False, "alerts", "nobody is told; add a [[target]]"
    for target in state["targets"]:
        what = f"alerts to {target['name']}"
        if target["waiting"]:
            yield False, what, f"{target['waiting']} wait: {target['last_error']}"
        elif not target["delivered"]:
            yield False, what, "none was ever delivered; stop the station and run check for a test"
        else:
            yield True, what, f"{target['delivered']} delivered, none waits"


def _tracker(tracker: dict[str, Any]) -> tuple[bool, str, str]:
    what, age = f"tracker {tracker['id']}", tracker["received_age_s"]
    if age is None:
        return False, what, "never heard by this station"
    heard = f"heard {span_text(age)} ago"
    if age > FRESH_S:
        return False, what, f"{heard}; is it on, and does it see the sky?"
    return True, what, heard
