"""What a message tells beside time and place: motion, satellites, what was measured."""

from collections.abc import Sequence
from typing import Final

from groundstation.jobs.guessing.names import LESS, Guess, Leaf, figure, means, unit_of

SPEED: Final = ("speed", "velocity", "gs", "sog", "spd", "groundspeed")
COURSE: Final = ("course", "heading", "cog", "bearing", "hdg", "direction", "track")
SATELLITES: Final = ("sats", "satellites", "sat", "numsat", "nsat", "siv", "satcount", "numsats")
VALID: Final = ("valid", "gpsvalid", "fixvalid", "locked", "fix", "gpsfix", "hasfix")
BATTERY: Final = ("batt", "battery", "vbat", "bat", "voltage", "volt", "vbatt", "vcc", "supply")
TEMPERATURE: Final = ("temp", "temperature", "t")
PRESSURE: Final = ("pressure", "press", "baro", "pres")
HUMIDITY: Final = ("humidity", "hum", "rh")
SIGNAL: Final = ("rssi",)
NOISE: Final = ("snr",)


def add_values(leaves: Sequence[Leaf], guess: Guess) -> None:
    taken = set(guess.places.values())
    free = [leaf for leaf in leaves if leaf.path not in taken]

    def put(ours: str, leaf: Leaf, unit: str = "") -> None:
        stem, _, ending = ours.rpartition("_")
        more = 2
        while ours in guess.places:
            ours = f"{stem}_{more}_{ending}"
            more += 1
        guess.places[ours] = leaf.path
        if unit:
            guess.units[ours] = unit

    for leaf in free:
        value, written = figure(leaf, guess)
        if means(leaf, VALID) and leaf.text.strip().lower() in ("true", "false", "a", "v"):
            guess.places.setdefault("valid", leaf.path)
        if value is None or LESS & set(leaf.words):
            continue
        if means(leaf, SATELLITES):
            guess.places.setdefault("satellites", leaf.path)
        elif means(leaf, COURSE) and 0.0 <= value <= 360.0:
            guess.places.setdefault("course_deg", leaf.path)
        elif means(leaf, SPEED) and "speed_ms" not in guess.places and "vertical" not in leaf.words:
            unit = unit_of(leaf, ("km/h", "mph", "kt", "m/s"))
            if unit or written:
                put("speed_ms", leaf, "" if unit == "m/s" else unit)
            else:
                guess.doubts.append("the speed does not tell its unit and is left out")
        elif means(leaf, BATTERY):
            unit = written or unit_of(leaf, ("V", "mV", "%"))
            level = bool(set(leaf.words) & {"level", "pct", "percent", "soc"})
            if unit == "%" or level or (not unit and 30.0 < value <= 100.0):
                put("battery_percent", leaf)
            else:
                milli = unit == "mV" or (not unit and value >= 1000.0)
                put("battery_v", leaf, "mV" if milli and not written else "")
        elif means(leaf, TEMPERATURE):
            unit = unit_of(leaf, ("degC", "degF", "K"))
            inside = "internal_" if set(leaf.words) & {"int", "internal", "inside", "board"} else ""
            put(f"{inside}temperature_c", leaf, "" if unit == "degC" or written else unit)
        elif means(leaf, PRESSURE):
            unit = unit_of(leaf, ("hPa", "Pa", "mbar", "kPa"))
            unit = unit or ("Pa" if value > 2000.0 else "")
            put("pressure_hpa", leaf, "" if unit == "hPa" or written else unit)
        elif means(leaf, HUMIDITY):
            put("humidity_percent", leaf)
        elif means(leaf, SIGNAL):
            put("rssi_dbm", leaf)
        elif means(leaf, NOISE):
            put("snr_db", leaf)
