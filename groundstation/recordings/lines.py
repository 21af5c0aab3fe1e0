"""Lines of a recording as bytes, and times that a broken line inherits from the one before."""

from collections.abc import Iterable, Iterator
from pathlib import Path

from groundstation.errors import InputFileError

BYTE_ORDER_MARK = b"\xef\xbb\xbf"


def content_lines(data: bytes) -> list[tuple[int, bytes]]:
    """(line number from 1, line) of all lines but empty ones and comments, which begin with #."""
    numbered = enumerate(data.removeprefix(BYTE_ORDER_MARK).split(b"\n"), start=1)
    stripped = ((number, line.rstrip(b"\r")) for number, line in numbered)
    return [(n, line) for n, line in stripped if line.strip() and not line.startswith(b"#")]


def inherit_times(
    path: Path, timed: Iterable[tuple[float | None, bytes]], example: str
) -> Iterator[tuple[float, bytes]]:
    """Give lines without a time that of the line before, or of the first line that has one.

    A broken line is part of the recording. Raises ``InputFileError`` where no line has a time.
    """
    rows = list(timed)
    now = next((at for at, _ in rows if at is not None), None)
    if now is None:
        raise InputFileError(f"{path}: no line has a time; they should be like {example}")
    for at, line in rows:
        now = now if at is None else at
        yield now, line
