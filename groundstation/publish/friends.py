"""What friends may see: late, roughly, and no more once it is down.

A page of one file and its state in another, for any web server that gives out files. Pure, but for
the templates that are read from the package.
"""

import base64
import hashlib
import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Any, Final

from markupsafe import Markup

from groundstation.errors import ConfigurationError
from groundstation.flight.state import FlightState
from groundstation.html.templates import templates
from groundstation.jsonout import iso_utc
from groundstation.language.catalogue import _, spoken
from groundstation.publish.blur import Blur
from groundstation.publish.uploads import S3Settings, SftpSettings, WebdavSettings
from groundstation.records import Phase

PAGE: Final = "index.html"
STATE: Final = "state.json"
HEIGHT_STEP_M: Final = 100.0  # own choice: what a friend cares for
TIME_STEP_S: Final = 60.0  # own choice: finer times and a known wind would tell the place
MOST_POINTS: Final = 300  # own choice: a line on a phone


@dataclass(frozen=True, slots=True, kw_only=True)
class FriendsSettings:
    """A page and its state, written into ``folder`` each ``every_s``, and to wherever else is set.

    Friends see how it was ``delay_s`` ago, and places as squares of ``blur_m``. Once it is down
    they see no place any more. Raises ``ConfigurationError``.
    """

    folder: Path
    title: str = ""
    every_s: float = 60.0
    delay_s: float = 600.0
    blur_m: float = 1_000.0
    webdav: WebdavSettings | None = None
    sftp: SftpSettings | None = None
    s3: S3Settings | None = None

    def __post_init__(self) -> None:
        if self.every_s < 10.0:
            raise ConfigurationError("friends.every_s is at least 10 s")
        if self.delay_s < 0.0 or self.blur_m < 0.0:
            raise ConfigurationError("friends.delay_s and friends.blur_m must not be negative")
        if 0.0 < self.blur_m < 10.0:
            raise ConfigurationError("friends.blur_m is 0 or at least 10 m")


@dataclass(slots=True)
class Telling:
    """Gathers how flights stand, and tells how they stood. ``title`` heads the page."""

    settings: FriendsSettings
    title: str
    rehearsal: bool = False
    _known: deque[tuple[float, Sequence[FlightState]]] = field(default_factory=deque)
    _blur: Blur = field(init=False)

    def __post_init__(self) -> None:
        self._blur = Blur(self.settings.blur_m)

    def look(self, now_utc: float, states: Sequence[FlightState]) -> dict[str, Any] | None:
        """What to tell now; None where nothing is old enough to be told."""
        self._known.append((now_utc, tuple(states)))
        late_utc = now_utc - self.settings.delay_s
        while len(self._known) > 1 and self._known[1][0] <= late_utc:
            self._known.popleft()
        then_utc, then = self._known[0]
        over = {state.payload for state in states if is_over(state, now_utc)}
        if then_utc > late_utc and len(over) < len(states):
            return None
        return {
            "title": self.title,
            "rehearsal": self.rehearsal,
            "made": iso_utc(now_utc),
            "as_of": iso_utc(then_utc),
            "delay_s": self.settings.delay_s,
            "blur_m": self.settings.blur_m,
            "over": bool(states) and len(over) == len(states),
            "flights": [
                _over(state) if state.payload in over else self._flight(state) for state in then
            ],
        }

    def _flight(self, state: FlightState) -> dict[str, Any]:
        last, landing, name = state.motion.last, state.landing, state.payload
        record: dict[str, Any] = {**_always(state), "over": False, "phase": str(state.motion.phase)}
        if last is not None and state.motion.phase is not Phase.PRELAUNCH:
            lat, lon = self._blur.follow(f"{name}/now", last.latitude_deg, last.longitude_deg)
            record |= {
                "lat": lat,
                "lon": lon,
                "height_m": _rounded(last.altitude_m),
                "heard": _minute(last.time_utc),
                "track": self._track(state),
            }
        if landing is not None:
            lat, lon = self._blur.follow(f"{name}/aim", landing.latitude_deg, landing.longitude_deg)
            record["landing"] = {
                "lat": lat,
                "lon": lon,
                "radius_m": HEIGHT_STEP_M
                * math.ceil((landing.radius_90_m + self.settings.blur_m) / HEIGHT_STEP_M),
                "eta": _minute(landing.eta_utc),
            }
        return record

    def _track(self, state: FlightState) -> list[tuple[float, float]]:
        begun_utc = 0.0 if state.motion.launch is None else state.motion.launch.time_utc
        points = [point for point in state.motion.track.points if point.time_utc >= begun_utc]
        every = math.ceil(len(points) / MOST_POINTS) or 1
        places = [
            self._blur.place(point.latitude_deg, point.longitude_deg) for point in points[::every]
        ]
        return [place for n, place in enumerate(places) if n == 0 or place != places[n - 1]]


def is_over(state: FlightState, now_utc: float) -> bool:
    """Whether it is down, or must be: then whoever sees where would be there first."""
    if state.motion.phase is Phase.LANDED:
        return True
    landing = state.landing
    falls = state.motion.phase is Phase.DESCENT and landing is not None
    return falls and landing is not None and now_utc > landing.eta_90_utc[1]


def page_html(title: str) -> str:
    """The page, in the language that is spoken; it takes all else from its state."""
    folder = resources.files("groundstation.publish") / "templates"
    style, script = ((folder / name).read_text("utf-8") for name in ("friends.css", "friends.js"))
    policy = (
        f"default-src 'none'; connect-src 'self'; base-uri 'none'; form-action 'none';"
        f" style-src '{_digest(style)}'; script-src '{_digest(script)}'"
    )
    page = templates("groundstation.publish").get_template("friends.html")
    return page.render(
        title=title,
        language=spoken(),
        policy=policy,
        # Both are ours, and whole files of the package.
        style=Markup(style),
        script=Markup(script),
        words=words(),
        state=STATE,
    )


def words() -> dict[str, str]:
    """What the page's script says, by a name."""
    return {
        "prelaunch": _("Waiting for the launch"),
        "ascent": _("Climbing"),
        "float": _("Floating"),
        "descent": _("Descending by its parachute"),
        "landed": _("Down"),
        "height": _("Height"),
        "highest": _("Highest"),
        "launched": _("Launched"),
        "heard": _("Last heard"),
        "landing": _("Expected landing"),
        "within": _("nine chances in ten within {km} km"),
        "map": _("On a map"),
        "late": _(
            "Shown {minutes} min late, and to {km} km only, so that it can be fetched in peace."
        ),
        "over": _("It is down, and its people look for it. Where it lies is not shown here."),
        "nothing": _("Nothing to see yet."),
        "old": _("No news for {minutes} min."),
        "away": _("There is no answer now; it is tried again."),
        "rehearsal": _("A rehearsal: nothing is really flying."),
    }


def _over(state: FlightState) -> dict[str, Any]:
    return {**_always(state), "over": True, "phase": str(Phase.LANDED)}


def _always(state: FlightState) -> dict[str, Any]:
    highest, launch = state.motion.highest, state.motion.launch
    return {
        "payload": state.payload,
        "launched": None if launch is None else _minute(launch.time_utc),
        "highest_m": None if highest is None else _rounded(highest.altitude_m),
    }


def _rounded(height_m: float | None) -> float | None:
    return None if height_m is None else HEIGHT_STEP_M * round(height_m / HEIGHT_STEP_M)


def _minute(time_utc: float) -> str | None:
    return iso_utc(TIME_STEP_S * math.floor(time_utc / TIME_STEP_S))


def _digest(text: str) -> str:
    """As a policy names an inline part (CSP level 3, section 2.3.1)."""
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"
