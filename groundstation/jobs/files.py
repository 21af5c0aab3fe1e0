"""Files that commands write for a person."""

from pathlib import Path

from groundstation.errors import InputFileError


def write_text(out: Path, text: str) -> None:
    """Raises ``InputFileError`` where it can't be written."""
    try:
        out.write_text(text, encoding="utf-8")
    except OSError as error:
        raise InputFileError(f"{out} can't be written: {error.strerror}; name another") from error
