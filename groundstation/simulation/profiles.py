"""Named kinds of simulated flights, as a person asks for them on the command line."""

from dataclasses import replace
from enum import StrEnum
from typing import Final

from groundstation.simulation.settings import Manner, SimulationSettings, TrackerModel


class Profile(StrEnum):
    """What kind of flight to simulate."""

    NORMAL = "normal"
    FLOAT = "float"
    FOULED = "fouled"
    SLOW = "slow"
    LEAK = "leak"
    NO_BURST = "no-burst"
    LOSSY = "lossy"
    CEILING = "ceiling"
    HARD = "hard"
    MESSENGER = "messenger"
    SEASON = "season"


DESCRIPTIONS: Final = {
    Profile.NORMAL: "a usual flight: ascent, burst, descent under the parachute",
    Profile.FLOAT: "the balloon floats for a while before it bursts",
    Profile.FOULED: "the parachute is fouled, it falls two to three times as fast as planned",
    Profile.SLOW: "much of the balloon stays on the parachute, it falls very slowly",
    Profile.LEAK: "the balloon leaks, turns back early and sinks slowly",
    Profile.NO_BURST: "no burst: a long float, then it sinks slowly",
    Profile.LOSSY: "many packets lost, some late, a few false",
    Profile.CEILING: "a tracker that has no fix above 18 km",
    Profile.SEASON: "three weeks: five flights, the drives, tests indoors and on a line (a track)",
    Profile.MESSENGER: "a satellite messenger: a place each 10 min, no heights, a fifth lost",
    Profile.HARD: "losses, a float of 25 min, late packets, false fixes, silence before landing",
}

_LOSSY: Final = TrackerModel(
    lost_share=0.22,
    outage_share=0.18,
    outage_s=240.0,
    late_share=0.03,
    late_s=200.0,
    wrong_share=0.006,
)
_HARD: Final = TrackerModel(
    lost_share=0.18,
    outage_share=0.15,
    outage_s=200.0,
    late_share=0.05,
    late_s=300.0,
    wrong_share=0.012,
    silent_below_agl_m=1_400.0,
    found_after_s=1_500.0,
)
_MESSENGER: Final = TrackerModel(
    interval_s=600.0,
    jitter_s=10.0,
    lost_share=0.2,
    outage_share=0.0,
    late_share=0.03,
    late_s=200.0,
    by_satellite=True,
    heights=False,
)
"""As a study of such trackers on recorded flights has them; how late is an own choice."""
FLOAT_S: Final = 1_500.0  # own choice: long enough to be told as a float
BEFORE_MESSENGER_S: Final = 2_700.0  # own choice: some messages while it is filled
AFTER_MESSENGER_S: Final = 5_400.0  # own choice: several messages from the ground
AFTER_HARD_S: Final = 2_100.0  # own choice: until it was told as lying


def settings_of(profile: Profile, seed: int) -> SimulationSettings:
    """The settings that ``profile`` stands for."""
    plain = SimulationSettings(seed=seed)
    match profile:
        case Profile.LOSSY:
            return replace(plain, tracker=_LOSSY)
        case Profile.CEILING:
            return replace(plain, tracker=TrackerModel(ceiling_m=18_000.0))
        case Profile.MESSENGER:
            return replace(
                plain,
                tracker=_MESSENGER,
                before_s=BEFORE_MESSENGER_S,
                after_s=AFTER_MESSENGER_S,
            )
        case Profile.HARD:
            return replace(
                plain,
                manner=Manner.FLOAT,
                float_s=FLOAT_S,
                tracker=_HARD,
                after_s=AFTER_HARD_S,
            )
        case _:
            return replace(plain, manner=Manner(profile.value))
