"""Which language a command writes in for a person."""

from groundstation.config import StationSettings
from groundstation.errors import ConfigurationError
from groundstation.language.catalogue import SOURCE, languages


def language_of(asked: str | None, station: StationSettings | None) -> str:
    """What is asked for, else the station's. Raises ``ConfigurationError``."""
    if asked is None:
        return SOURCE if station is None else station.station.language
    if asked not in languages():
        raise ConfigurationError(
            f"--language {asked!r} is none that there is; give one of {', '.join(languages())}"
        )
    return asked
