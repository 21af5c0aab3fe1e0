"""Reading a flight file."""

from pathlib import Path

from groundstation.errors import ConfigurationError
from groundstation.planning.settings import FlightFile
from groundstation.settings_builder import SettingsBuilder


def read_flight(path: Path) -> FlightFile:
    """Raises ``ConfigurationError`` with all that is wrong, one a line."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigurationError(f"cannot read the flight file {path}: {error}") from error
    builder = SettingsBuilder(text, name=str(path), folder=path.absolute().parent, env={})
    flight = builder.build(FlightFile)
    builder.raise_problems()
    return flight
