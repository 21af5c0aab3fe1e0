"""Reading a flight file."""

from pathlib import Path

from groundstation.planning.settings import FlightFile
from groundstation.settings.builder import read_settings


def read_flight(path: Path) -> FlightFile:
    """Raises ``ConfigurationError`` with all that is wrong, one a line."""
    return read_settings(path, FlightFile, "the flight file")
