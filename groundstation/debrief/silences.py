"""Why nothing was heard for a while: the height of a receiver, the horizon, or neither."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from typing import Final

from groundstation.debrief.flights import FlightLog
from groundstation.flight.horizon import hidden_below_m
from groundstation.flight.roster import plain_id
from groundstation.flight.settings import FlightSettings, TrackerKind, TrackerSettings
from groundstation.language.catalogue import _, ngettext
from groundstation.language.numbers import number
from groundstation.planning.readable_figures import METRIC, Shown
from groundstation.records import Fix

GAP_S: Final = 300.0  # own choice: shorter gaps are lost packets
CEILING_ROOM_M: Final = 1_500.0
"""Within so much below a receiver's ceiling the next fix may already have been above it."""

HORIZON_ROOM_M: Final = 300.0  # own choice: trees, houses and hills between
SAME_HEIGHT_M: Final = 1_500.0  # own choice: a minute or two of descent, or five of ascent
HIGH_M: Final = 9_000.0  # own choice: above it the air is cold and thin
LOW_M: Final = 2_500.0  # own choice: below it hills are in the way
MASTS_M: Final = 3_000.0
"""Above it telephone masts, whose antennas look down, are seldom heard; common practice, no
source."""


@dataclass(frozen=True, slots=True)
class Silence:
    """From the fix ``before`` until ``after``, with what it likely was."""

    before: Fix
    after: Fix
    why: str

    @property
    def lasted_s(self) -> float:
        return self.after.time_utc - self.before.time_utc


def silences(
    flight: FlightLog,
    settings: FlightSettings | None = None,
    others: Callable[[float, float], int] = lambda _from, _to: 0,
    shown: Shown = METRIC,
) -> Iterator[Silence]:
    """Those of ``GAP_S`` or more in flight, but for what was late and came after all.

    ``settings`` know the base and the trackers; ``others`` how many frames of anything were heard
    between two times of reception.
    """
    end = flight.landed_utc or flight.fixes[-1].time_utc
    flown = [fix for fix in flight.fixes if flight.launch_utc <= fix.time_utc <= end]
    for before, after in pairwise(flown):
        if after.time_utc - before.time_utc < GAP_S:
            continue
        known = _why(before, after, settings, shown)
        if not known and _is_low(flight, before):
            known = _("low in its fall, where the horizon, hills and trees are in the way")
        heard = others(before.received_utc, after.received_utc)
        yield Silence(before, after, known or _nothing_in_the_way(heard))


def _why(before: Fix, after: Fix, settings: FlightSettings | None, shown: Shown) -> str:
    trackers = () if settings is None else settings.trackers
    return (
        _above_the_ceiling(before, after, trackers, shown)
        or _below_the_horizon(before, after, settings, shown)
        or _out_of_reach_of_masts(before, after, trackers)
        or _across_the_top(before, after)
    )


def _is_low(flight: FlightLog, fix: Fix) -> bool:
    """Falling, and not far above the height of the launch."""
    ground = flight.fixes[0].altitude_m
    if flight.burst_utc is None or fix.time_utc < flight.burst_utc:
        return False
    return fix.altitude_m is not None and fix.altitude_m < (ground or 0.0) + LOW_M


def _above_the_ceiling(
    before: Fix, after: Fix, trackers: tuple[TrackerSettings, ...], shown: Shown
) -> str:
    ceiling = max(
        (tracker.ceiling_m or inf for tracker in _of(before, after, trackers)), default=inf
    )
    if before.altitude_m is None or after.altitude_m is None:
        return ""
    if min(before.altitude_m, after.altitude_m) < ceiling - CEILING_ROOM_M:
        return ""
    return _("above the ceiling of its receiver, {height}", height=shown.text("level", ceiling))


def _below_the_horizon(
    before: Fix, after: Fix, settings: FlightSettings | None, shown: Shown
) -> str:
    if settings is None or settings.base is None:
        return ""
    ground = settings.base.altitude_m if settings.ground_m is None else settings.ground_m
    for fix in (before, after):
        hidden = hidden_below_m(settings, fix.latitude_deg, fix.longitude_deg, ground)
        if hidden is None or fix.altitude_m is None or hidden <= ground + HORIZON_ROOM_M:
            continue
        if fix.altitude_m < hidden + HORIZON_ROOM_M:
            down_to = shown.text("altitude", hidden)
            return _(
                "near the horizon of base, which sees it down to {height} there", height=down_to
            )
    return ""


def _out_of_reach_of_masts(before: Fix, after: Fix, trackers: tuple[TrackerSettings, ...]) -> str:
    kinds = {tracker.kind for tracker in _of(before, after, trackers)}
    highest = max(before.altitude_m or 0.0, after.altitude_m or 0.0)
    if kinds == {TrackerKind.CELLULAR} and highest > MASTS_M:
        return _("a tracker that telephones is seldom heard so high")
    return ""


def _across_the_top(before: Fix, after: Fix) -> str:
    if before.altitude_m is None or after.altitude_m is None:
        return ""
    same = abs(before.altitude_m - after.altitude_m) < SAME_HEIGHT_M
    if not same or before.altitude_m < HIGH_M or after.time_utc - before.time_utc < 2.0 * GAP_S:
        return ""
    return _("silent from one height up and heard again at the same: a receiver's ceiling, likely")


def _nothing_in_the_way(others: int) -> str:
    if others:
        return ngettext(
            "another packet was heard meanwhile, so the receivers worked: look at the tracker, its"
            " antenna and its battery",
            "{others} other packets were heard meanwhile, so the receivers worked: look at the"
            " tracker, its antenna and its battery",
            others,
            others=number(others),
        )
    return _("nothing else was heard either: receiver, network or tracker")


def _of(before: Fix, after: Fix, trackers: tuple[TrackerSettings, ...]) -> list[TrackerSettings]:
    ids = {plain_id(before.tracker), plain_id(after.tracker)}
    return [tracker for tracker in trackers if plain_id(tracker.id) in ids]
