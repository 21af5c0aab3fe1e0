"""What the install command does."""

import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from string import Template
from typing import Any, Final

from groundstation.errors import ConfigurationError, GroundstationError
from groundstation.settings.builder import CREDENTIAL, RESOURCES

UNIT: Final = "groundstation.service"
DATA: Final = Path("/var/lib/groundstation")
MANAGER_RUNS: Final = Path("/run/systemd/system")


def unit_text(config: Path) -> str:
    """The unit for this program and the configuration ``config``. Raises ``ConfigurationError``."""
    settings = _read(config)
    program = Path(sys.prefix) / "bin" / "groundstation"
    command = f"{program} run --config {config}"
    if any(character in command for character in '"$%\n') or " " in f"{program}{config}":
        raise ConfigurationError(
            f"{program} and {config} stand in a line of a systemd unit, which takes no spaces and "
            "no quotes; move them"
        )
    folder = config.parent
    credentials = sorted(set(_credentials(settings)))
    copies = Path(str(settings.get("station", {}).get("backup_dir") or DATA))
    # "-": the folder may be on a stick that is not there at the start.
    beyond = f"ReadWritePaths=-{copies}\n" if not (folder / copies).is_relative_to(DATA) else ""
    if beyond and not copies.is_absolute():
        raise ConfigurationError(
            f"station.backup_dir {str(copies)!r} counts from {folder}; give the service an"
            " absolute one"
        )
    friends = settings.get("friends", {}).get("folder")
    if friends is not None and not (folder / str(friends)).is_relative_to(DATA):
        raise ConfigurationError(
            f"friends.folder is {friends}, where the service may not write; put it below {DATA},"
            " and bring the page to a web server by webdav, sftp or s3"
        )
    lines = "".join(f"LoadCredential={name}:{folder / name}\n" for name in credentials)
    explained = "# Secrets: one file each, best readable by root only.\n" if lines else ""
    at_home = Path(sys.prefix).is_relative_to("/home") or Path(sys.prefix).is_relative_to("/root")
    text = Template((RESOURCES / UNIT).read_text("utf-8"))
    return text.substitute(
        command=command,
        credentials=f"{explained}{lines}",
        copies=beyond,
        home="read-only" if at_home else "yes",
    )


def installed(config: Path | None, unit_dir: Path, *, start: bool) -> Iterator[str]:
    """Write the unit and start it; says what was done."""
    if config is None:
        raise ConfigurationError("which configuration? Give --config PATH")
    config = config.resolve()
    text = unit_text(config)
    settings = _read(config)
    data = Path(str(settings.get("station", {}).get("data_dir", "")))
    if data.is_absolute() and data != DATA and not data.is_relative_to(DATA):
        raise ConfigurationError(
            f"station.data_dir is {data}, where the service may not write; set it to {DATA}"
        )
    if not data.is_absolute() and (config.parent / data) != DATA:
        raise ConfigurationError(
            f"station.data_dir {str(data)!r} counts from {config.parent}, where the service may "
            f"not write; set it to {DATA}"
        )
    path = unit_dir / UNIT
    if path.is_file() and path.read_text("utf-8") == text:
        yield f"{path} is as it should be"
    else:
        try:
            unit_dir.mkdir(parents=True, exist_ok=True)
            path.write_text(text, "utf-8")
        except OSError as error:
            raise GroundstationError(
                f"{path} can't be written: {error.strerror}; run it with sudo"
            ) from error
        yield f"{path} written"
    if Path(sys.prefix).is_relative_to("/root"):
        yield f"{sys.prefix} is root's own folder, which the service can't read; install elsewhere"
    yield from _told_manager(("daemon-reload",), ("enable", "--now", UNIT), do=start)


def removed(unit_dir: Path) -> Iterator[str]:
    """Stop the service and take the unit away; the data stay."""
    path = unit_dir / UNIT
    if not path.exists():
        yield f"there is no {path}"
        return
    yield from _told_manager(("disable", "--now", UNIT), do=True)
    try:
        path.unlink()
    except OSError as error:
        raise GroundstationError(
            f"{path} can't be removed: {error.strerror}; run it with sudo"
        ) from error
    yield f"{path} removed; the data in {DATA} stay"
    yield from _told_manager(("daemon-reload",), do=True)


def _told_manager(*commands: tuple[str, ...], do: bool) -> Iterator[str]:
    program = shutil.which("systemctl")
    for command in commands:
        words = f"systemctl {' '.join(command)}"
        if not do or program is None or not MANAGER_RUNS.is_dir():
            yield f"to do: {words}"
            continue
        done = subprocess.run([program, *command], capture_output=True, text=True, check=False)
        if done.returncode:
            raise GroundstationError(f"{words} failed: {done.stderr.strip()}")
        yield f"done: {words}"


def _read(config: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(config.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise ConfigurationError(
            f"cannot read the configuration {config}: {error.strerror}"
        ) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ConfigurationError(f"{config} is not TOML: {error}") from error


def _credentials(setting: object) -> Iterator[str]:
    """The names in every { credential = "name" }, and in every path "credential:name"."""
    if isinstance(setting, dict):
        name = setting.get("credential")
        if isinstance(name, str) and len(setting) == 1:
            yield name
        for value in setting.values():
            yield from _credentials(value)
    elif isinstance(setting, list):
        for value in setting:
            yield from _credentials(value)
    elif isinstance(setting, str) and setting.startswith(CREDENTIAL):
        yield setting.removeprefix(CREDENTIAL)
