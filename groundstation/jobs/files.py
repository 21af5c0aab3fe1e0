"""Files that commands write for a person."""

from collections.abc import Mapping
from pathlib import Path

from groundstation.config import load
from groundstation.errors import ConfigurationError, InputFileError


def write_text(out: Path, text: str) -> None:
    """Raises ``InputFileError`` where it can't be written."""
    try:
        out.write_text(text, encoding="utf-8")
    except OSError as error:
        raise InputFileError(f"{out} can't be written: {error.strerror}; name another") from error


def write_configuration(path: Path, text: str, env: Mapping[str, str]) -> None:
    """Put ``text`` in the place of the file, if it can be read as a configuration.

    Raises ``ConfigurationError``, which leaves the file as it was, and ``OSError``.
    """
    new = path.with_name(f".{path.name}.new")
    try:
        new.write_text(text, "utf-8")
        if path.exists():
            new.chmod(path.stat().st_mode & 0o777)
        load(new, env)
        new.replace(path)
    except ConfigurationError as error:
        why = str(error).replace(str(new), "it")
        raise ConfigurationError(f"{path} is left as it was, because then {why}") from error
    finally:
        new.unlink(missing_ok=True)
