"""Writes the page for friends at intervals, and takes it wherever it is to go."""

import asyncio
import json
import logging
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from groundstation.errors import ConfigurationError, DeliveryError
from groundstation.flight.state import FlightState
from groundstation.publish.friends import PAGE, STATE, FriendsSettings, Telling, page_html
from groundstation.publish.uploads import S3, Sftp, Upload, Webdav

log = logging.getLogger(__name__)


class FriendsPublisher:
    """``now_utc`` and ``states_now`` tell how it stands at this moment.

    Raises ``ConfigurationError`` where a package or an authority is missing.
    """

    def __init__(
        self,
        settings: FriendsSettings,
        telling: Telling,
        now_utc: Callable[[], float],
        states_now: Callable[[], Sequence[FlightState]],
    ) -> None:
        self._settings = settings
        self._telling = telling
        self._now_utc = now_utc
        self._states_now = states_now
        self._uploads = tuple(uploads(settings))
        self._silent: dict[str, str] = {}
        self._over = False

    async def run(self) -> None:
        """Go on until cancelled. What fails is told once and tried again at the next interval."""
        page = page_html(self._telling.title).encode()
        waiting: dict[str, bytes] = {PAGE: page}
        while True:
            record = self._telling.look(self._now_utc(), self._states_now())
            # Once it is over that is told, and then nothing more, until something flies again.
            if record is not None and not (record["over"] and self._over):
                self._over = record["over"]
                waiting[STATE] = json.dumps(record, ensure_ascii=False, allow_nan=False).encode()
            if waiting and await self.bring(waiting):
                waiting = {}
            await asyncio.sleep(self._settings.every_s)

    async def bring(self, files: Mapping[str, bytes]) -> bool:
        """Put ``files`` everywhere; whether all of that worked."""
        results = await asyncio.gather(
            self._to("the folder", self._to_folder(files)),
            *(self._to(upload.name, _all(upload, files)) for upload in self._uploads),
        )
        return all(results)

    async def _to_folder(self, files: Mapping[str, bytes]) -> None:
        try:
            for name, data in files.items():
                await asyncio.to_thread(_replace, self._settings.folder / name, data)
        except OSError as error:
            raise DeliveryError(
                "{where}: {why}", where=self._settings.folder, why=error.strerror
            ) from error

    async def _to(self, where: str, work: Any) -> bool:
        try:
            await work
        except DeliveryError as error:
            reason = str(error)
            level = logging.DEBUG if self._silent.get(where) == reason else logging.WARNING
            log.log(level, "the page for friends can't be brought to %s: %s", where, reason)
            self._silent[where] = reason
            return False
        if self._silent.pop(where, None) is not None:
            log.info("the page for friends is brought to %s again", where)
        return True


def uploads(settings: FriendsSettings) -> Iterator[Upload]:
    """Where else it goes. Raises ``ConfigurationError``."""
    if settings.webdav is not None:
        yield Webdav(settings.webdav)
    if settings.sftp is not None:
        yield Sftp(settings.sftp)
    if settings.s3 is not None:
        yield S3(settings.s3)


async def tried(settings: FriendsSettings, title: str) -> str:
    """Bring the page, without a flight, everywhere once; says where to.

    Raises ``DeliveryError`` and ``ConfigurationError``.
    """
    page = page_html(title).encode()
    try:
        await asyncio.to_thread(_replace, settings.folder / PAGE, page)
    except OSError as error:
        raise ConfigurationError(
            f"friends.folder {settings.folder} can't be written: {error.strerror}"
        ) from error
    where = [f"written to {settings.folder}"]
    for upload in uploads(settings):
        try:
            await upload.put(PAGE, page)
        except DeliveryError as error:
            raise DeliveryError("{where}: {why}", where=upload.name, why=error.words) from error
        where.append(f"brought by {upload.name}")
    return ", ".join(where)


async def _all(upload: Upload, files: Mapping[str, bytes]) -> None:
    for name, data in files.items():
        await upload.put(name, data)


def _replace(path: Path, data: bytes) -> None:
    if not path.parent.is_dir():
        path.parent.mkdir(parents=True)
        path.parent.chmod(0o755)
    new = path.with_name(f"{path.name}.part")
    new.write_bytes(data)
    # A web server of another user gives it out.
    new.chmod(0o644)
    new.replace(path)
