"""The report of the bundled invented flight in each language, as text, and how it was last read:
``tests/debrief/report_en.txt`` and its like. After a change that is meant, ``python -m
tests.support.reported`` writes it anew; then read it as who gets it would.

The flight is ``replay/normal.csv`` with two pieces left out, for silences, with a log of the
payload's own, sightings, a finder and the example's flight file. All names are invented.
"""

import re
import tempfile
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Final

import numpy as np

from groundstation.alerts.wording import WordingSettings
from groundstation.debrief.derive_lessons import Planned, learned
from groundstation.debrief.figures import figures
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.own_log import OwnLog, beside, estimated_again
from groundstation.debrief.report import report_html
from groundstation.debrief.silences import silences
from groundstation.debrief.words import Telling
from groundstation.flight.alert_records import Message
from groundstation.flight.settings import BaseSettings, FlightSettings, TrackerSettings
from groundstation.flight.sightings import BurstSeen, RadioBearing
from groundstation.geo.places import known_places
from groundstation.language.catalogue import languages, speaking
from groundstation.payload_log.reading import read_log, read_log_settings
from groundstation.physics.atmosphere import pressure, temperature
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import plan_settings
from groundstation.planning.lessons_file import lessons_text
from groundstation.planning.spread import planned
from groundstation.recordings.read_any import read_recording
from groundstation.recordings.recording import Recording
from groundstation.records import Fix, Landing, Phase, PhaseChange, Report
from groundstation.search.found import Condition, Found
from groundstation.station.replay import replay
from groundstation.store.reader import Told

ROOT: Final = Path(__file__).resolve().parents[2]
FLIGHT: Final = ROOT / "replay" / "normal.csv"
EVERY: Final = 3
"""A fix a minute is enough for all that a report says."""

SILENT_S: Final = ((3_000.0, 3_900.0), (6_700.0, 7_100.0))
"""After the first frame: on the way up, and about the burst."""

BASE: Final = BaseSettings(latitude_deg=47.1, longitude_deg=20.3, altitude_m=85.0)
SETTINGS: Final = FlightSettings(
    payload="kanalas-1", trackers=(TrackerSettings(id="Q0HAB-11"),), base=BASE
)


def recording() -> Recording:
    """Of the flight, without what was not heard."""
    whole = read_recording(FLIGHT)
    begun = whole.frames[0].received_utc
    kept = [
        frame for frame in whole.frames[::EVERY]
        if not any(low < frame.received_utc - begun < high for low, high in SILENT_S)
    ]  # fmt: skip
    return replace(whole, frames=tuple(kept))


def flight_log() -> FlightLog:
    """As the store would give it, in the language that is spoken."""
    heard = recording()
    names = known_places().nearest
    told = list(replay(heard, (SETTINGS,), WordingSettings(namer=names, base=BASE)))
    since = {
        one.phase: one.since_utc for _at, one in told if isinstance(one, PhaseChange)
    }  # fmt: skip
    fixes = tuple(_fixes(heard))
    launch, landed = since[Phase.ASCENT], since[Phase.LANDED]
    last = fixes[-1]
    return FlightLog(
        number=1,
        payload="kanalas-1",
        launch_utc=launch,
        burst_utc=since[Phase.DESCENT],
        landed_utc=landed,
        fixes=fixes,
        landings=tuple(one for _at, one in told if isinstance(one, Landing)),
        messages=tuple(
            Told(at, "", one.title, at, None if n == 1 else at + 2.0)
            for n, (at, one) in enumerate(
                (at, one) for at, one in told if isinstance(one, Message)
            )
        ),
        found=Found(
            payload="kanalas-1", time_utc=landed + 3_000.0, told_utc=landed + 3_000.0,
            latitude_deg=last.latitude_deg, longitude_deg=last.longitude_deg,
            condition=Condition.WHOLE, who="Napraforgó", note="Kukoricában, a dűlőúttól 40 m.",
        ),
        seen=(
            (BurstSeen(number=1, at_utc=since[Phase.DESCENT] + 20.0, told_utc=landed), False),
            (RadioBearing(number=2, at_utc=landed - 600.0, told_utc=landed, latitude_deg=47.2,
                          longitude_deg=20.4, bearing_deg=75.0, who="Napraforgó"), True),
        ),
    )  # fmt: skip


def _fixes(heard: Recording) -> list[Fix]:
    """Every other one by another receiver."""
    return [
        Fix(
            payload="kanalas-1", tracker=one.tracker, source="bázis" if n % 2 else "torony",
            time_utc=one.time_utc or frame.received_utc, received_utc=frame.received_utc,
            latitude_deg=one.latitude_deg, longitude_deg=one.longitude_deg,
            altitude_m=one.altitude_m, telemetry=one.telemetry,
        )
        for n, frame in enumerate(heard.frames)
        for one in heard.decode(frame)
        if isinstance(one, Report)
    ]  # fmt: skip


def own_log(flight: FlightLog, folder: Path) -> OwnLog:
    """A log each 5 s by a clock of its own, whose humidity sticks for a while and whose pressure is
    off."""
    fixes = [fix for fix in _fixes(read_recording(FLIGHT)) if fix.altitude_m is not None]
    known = np.array([fix.time_utc for fix in fixes])
    time = np.arange(known[0], known[-1], 5.0)
    height = np.interp(time, known, [fix.altitude_m or 0.0 for fix in fixes])
    wet = 40.0 + 30.0 * np.sin(height / 900.0) + 25.0 * (np.abs(height - 2_500.0) < 400.0)
    wet[(height > 8_000.0) & (height < 20_000.0)] = 33.0
    pascals = np.asarray(pressure(height)) - 700.0 * np.asarray(pressure(height)) / 101_325.0
    rows = "\n".join(
        f"{t:.1f},{p / 100.0:.2f},{c - 273.15 + 4.0:.1f},{min(w, 100.0):.0f},{3.9:.2f}"
        for t, p, c, w in zip(
            (time - time[0]) * 1.00002 + 37.0, pascals, temperature(height), wet, strict=True
        )
    )
    (folder / "log.csv").write_text(f"t,p,out,wet,bat\n{rows}\n", encoding="utf-8")
    (folder / "columns.toml").write_text(
        'time_format = "seconds"\n[columns]\ntime = "t"\npressure_hpa = "p"\n'
        'temperature_c = "out"\nhumidity = "wet"\nbattery_v = "bat"\n', encoding="utf-8",
    )  # fmt: skip
    return beside(flight, read_log(folder / "log.csv", read_log_settings(folder / "columns.toml")))


def kept(language: str) -> Path:
    """The text as it was last read."""
    return ROOT / "tests" / "debrief" / f"report_{language}.txt"


def report_in(language: str) -> str:
    """The page."""
    with speaking(language), tempfile.TemporaryDirectory() as folder:
        flight = flight_log()
        own = own_log(flight, Path(folder))
        file = read_flight(ROOT / "config" / "flight.toml")
        plan = planned(file)
        expected = plan_settings(plan)
        meant = Planned(file=file, plan=plan, expected=expected)
        taught = learned(flight, own.track, figures(flight, own.track), meant, BASE)
        assert taught.lesson is not None
        return report_html(
            flight,
            expected,
            own,
            list(estimated_again(flight, own.track, expected))[::10],
            list(silences(flight, SETTINGS, lambda _from, _to: 2)),
            taught.words,
            lessons_text([taught.lesson], head="").strip(),
            Telling("Europe/Budapest", find=known_places().nearest),
        )


def as_text(html: str) -> list[str]:
    """What is read, a line for each text; without styles, marks of axes and what is for files."""
    html = re.sub(r"<(style|pre|clipPath)\b.*?</\1>|<text class=\"tick\".*?</text>", "", html)
    html = re.sub(r"<style>.*?</style>|<pre>.*?</pre>", "", html, flags=re.DOTALL)
    lines = [unescape(one).strip() for one in re.split(r"<[^>]+>", html)]
    return [one for one in lines if one]


if __name__ == "__main__":
    for each in languages():
        kept(each).write_text("\n".join(as_text(report_in(each))) + "\n", encoding="utf-8")
