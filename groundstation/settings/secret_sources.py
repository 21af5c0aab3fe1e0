"""Where secrets come from: the environment, the service manager's credentials, or a file."""

from collections.abc import Mapping
from pathlib import Path
from typing import Final

from groundstation.errors import ConfigurationError
from groundstation.settings.secret import Secret

CREDENTIALS: Final = "CREDENTIALS_DIRECTORY"
"""Set by systemd for a service with LoadCredential= (systemd.exec(5))."""

_HOW: Final = '{ env = "NAME" }, { credential = "name" } or { file = "path" }'


def read_secret(value: object, env: Mapping[str, str], folder: Path) -> Secret:
    """The secret that ``value`` points to; ``folder`` is what relative paths start from.

    Raises ``ConfigurationError``, which never holds the secret, nor what stands in its place.
    """
    if not isinstance(value, dict):
        raise ConfigurationError(
            f"a secret may not stand in the configuration; write {_HOW} and keep it there"
        )
    if len(value) != 1:
        raise ConfigurationError(f"a secret has one origin; write {_HOW}")
    [(origin, name)] = value.items()
    if not isinstance(name, str) or not name:
        raise ConfigurationError(f"the {origin} of a secret is a text; write {_HOW}")
    match origin:
        case "env":
            text = env.get(name, "")
            if not text:
                raise ConfigurationError(f"the environment variable {name} is not set; set it")
            return Secret(text)
        case "credential":
            if Path(name).name != name:
                raise ConfigurationError(f"the credential {name!r} is not a bare name")
            # What systemd hands a service lies beside the configuration, for commands by hand.
            return _from_file(Path(env.get(CREDENTIALS) or folder) / name, f"credential {name!r}")
        case "file":
            return _from_file(folder / Path(name).expanduser(), f"file {name!r}")
        case _:
            raise ConfigurationError(f"{origin!r} is no origin of a secret; write {_HOW}")


def _from_file(path: Path, what: str) -> Secret:
    try:
        text = path.read_text(encoding="utf-8").strip()
    except OSError as error:
        raise ConfigurationError(f"the {what} cannot be read: {error.strerror}") from error
    except UnicodeDecodeError:
        raise ConfigurationError(f"the {what} is not text") from None
    if not text:
        raise ConfigurationError(f"the {what} is empty")
    return Secret(text)
