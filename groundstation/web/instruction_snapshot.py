"""What is to be done now about a payload, as the station tells it; see ``web/snapshot.py``."""

from dataclasses import dataclass
from typing import Annotated

from groundstation.records import Act, Standing
from groundstation.schema.fields import Latitude, Longitude, Metres, Time


@dataclass(frozen=True, slots=True, kw_only=True)
class InstructionSnapshot:
    """What happened, what to do now and where to, how sure that is, and what it rests on."""

    standing: Annotated[Standing, "Where the flight stands; what is to be done agrees with it."]
    badge: Annotated[str, "The same in a word or two, with whether it is silent."]
    silent: Annotated[bool, "Whether it is aloft, to be heard, and not heard."]
    act: Annotated[Act, "What is to be done, as a word for programs."]
    happened: Annotated[str, "What happened last, in a sentence."]
    todo: Annotated[str, "What is to be done, in a sentence; {where} stands for the place."]
    where: Annotated[str, "The place in words, from a vehicle, a name, base or the launch."] = ""
    latitude_deg: Annotated[Latitude | None, "Of the place; null where it sends nowhere."] = None
    longitude_deg: Annotated[Longitude | None, "Of the place; null where it sends nowhere."] = None
    measured: Annotated[bool, "Whether the place was heard from the ground, not estimated."] = False
    radius_50_m: Annotated[Metres | None, "Half of the chance is this near to the place."] = None
    since_utc: Annotated[Time | None, "Since when it holds; null before anything is heard."] = None
    fix_utc: Annotated[Time | None, "Of the newest fix it rests on; null before the first."] = None
    rests_on: Annotated[str, "What it rests on beside that fix, in words; may be empty."] = ""
    caution: Annotated[str, "What to mind while doing it; may be empty."] = ""
