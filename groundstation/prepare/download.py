"""Getting bytes over HTTP: with bounds, going on where it was stopped, and saying who asks."""

import http.client
import urllib.error
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from groundstation.errors import GroundstationError

PATIENCE_S: Final = 30.0  # own choice: a slow link of a phone
CHUNK: Final = 262_144  # own choice: so often progress is told
AGENT: Final = "groundstation (a person's own balloon station)"
"""Those who give things away want to see who asks (common practice)."""

Progress = Callable[[int, int | None], None]
"""Called with the bytes so far, and how many there will be where that is known."""


class FetchError(GroundstationError):
    """Something could not be fetched; it can be tried again."""

    exit_code = 1


class MissingError(FetchError):
    """The service has no such thing (404)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """``total`` is the size of the whole thing where a piece was asked for; ``version`` what tells
    another state of it apart."""

    data: bytes
    version: str = ""
    total: int | None = None


def get(address: str, most_bytes: int, piece: tuple[int, int] | None = None) -> Answer:
    """All of it, or the bytes from the first of ``piece`` up to before the second. Raises
    ``FetchError``."""
    headers = {"User-Agent": AGENT}
    if piece is not None:
        headers["Range"] = f"bytes={piece[0]}-{piece[1] - 1}"
    with _open(address, headers) as answer:
        if piece is not None and answer.status != 206:
            # Else it would send a whole planet.
            raise FetchError(
                "{address} gives no pieces of a file (HTTP ranges); name another", address=address
            )
        try:
            data = answer.read(most_bytes + 1)
        except (OSError, http.client.HTTPException) as error:
            raise FetchError(
                "{address} stopped in the middle ({why}); try again", address=address, why=error
            ) from error
        if len(data) > most_bytes:
            raise FetchError(
                "{address} gives more than {size} MB; that is not it",
                address=address,
                size=round(most_bytes / 1e6),
            )
        if piece is not None and len(data) != piece[1] - piece[0]:
            raise FetchError(
                "{address} gave another piece than was asked for; try again", address=address
            )
        total = (answer.headers.get("Content-Range") or "").rpartition("/")[2]
        return Answer(
            data=data,
            version=_version(answer),
            total=int(total) if total.isdigit() else None,
        )


def to_file(address: str, path: Path, most_bytes: int, progress: Progress) -> None:
    """Fetch it to ``path``, going on with what an earlier try left beside it where the service
    still has the same. Raises ``FetchError``."""
    part, mark = path.with_name(f"{path.name}.part"), path.with_name(f"{path.name}.version")
    path.parent.mkdir(parents=True, exist_ok=True)
    have = part.stat().st_size if part.exists() and mark.exists() else 0
    headers = {"User-Agent": AGENT}
    if have:
        headers |= {"Range": f"bytes={have}-", "If-Range": mark.read_text(encoding="utf-8")}
    try:
        with _open(address, headers) as answer:
            if answer.status != 206:
                have = 0
            mark.write_text(_version(answer), encoding="utf-8")
            if not _version(answer):
                mark.unlink()
            length = answer.headers.get("Content-Length")
            total = have + int(length) if length is not None else None
            _save(answer, part, have, total, most_bytes, progress)
    except OSError as error:
        raise FetchError(
            "{address} stopped in the middle ({why}); call again, it goes on from there",
            address=address,
            why=error,
        ) from error
    part.replace(path)
    mark.unlink(missing_ok=True)


def _save(
    answer: http.client.HTTPResponse,
    part: Path,
    have: int,
    total: int | None,
    most_bytes: int,
    progress: Progress,
) -> None:
    with part.open("r+b" if have else "wb") as file:
        file.seek(have)
        try:
            while piece := answer.read(CHUNK):
                file.write(piece)
                have += len(piece)
                if have > most_bytes:
                    raise FetchError(
                        "{file} is larger than {size} MB",
                        file=part.name,
                        size=round(most_bytes / 1e6),
                    )
                progress(have, total)
        except http.client.HTTPException as error:
            raise OSError(str(error)) from error
    if total is not None and have < total:
        raise OSError(f"{have:,} of {total:,} bytes came")


def _open(address: str, headers: dict[str, str]) -> http.client.HTTPResponse:
    request = urllib.request.Request(address, headers=headers)
    try:
        answer = urllib.request.urlopen(request, timeout=PATIENCE_S)
    except urllib.error.HTTPError as error:
        if error.code in (403, 404):
            # Some stores of files say 403 for what they do not have.
            raise MissingError(
                "{address} is not there ({code})", address=address, code=error.code
            ) from error
        raise FetchError(
            "{address} answers {code}; try later", address=address, code=error.code
        ) from error
    except (OSError, ValueError, http.client.HTTPException) as error:
        raise FetchError(
            "{address} can't be reached ({why}); see whether there is a network, or try later",
            address=address,
            why=error,
        ) from error
    assert isinstance(answer, http.client.HTTPResponse)
    return answer


def _version(answer: http.client.HTTPResponse) -> str:
    """Only a strong one may be gone on from (RFC 9110, 13.1.5)."""
    tag = str(answer.headers.get("ETag") or "")
    return "" if tag.startswith("W/") else tag
