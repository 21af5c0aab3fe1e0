"""One service of apprise without all the others.

For the first address apprise imports every service it knows, some 170, which takes half a second
and 25 MB. Which of its files speaks a scheme stands in their text, so only that one is imported.
Where it does not stand there plainly, apprise does it its own way.
"""

import importlib
import pkgutil
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from apprise import NotifyBase

_SCHEME: Final = re.compile(r"([a-z0-9]{1,32})://", re.IGNORECASE)
_SPOKEN: Final = re.compile(r"protocol = (\([^)]*\)|\"[^\"]*\")")


def service_of(url: str) -> "NotifyBase | None":
    """The service at ``url``; None where its file was not found, and where it takes no such
    address. Raises what apprise's class raises for parts that it can't use."""
    scheme = _SCHEME.match(url)
    plugin = None if scheme is None else plugin_of(scheme[1].lower())
    if plugin is None or not plugin.enabled:
        return None
    from apprise import AppriseAsset  # noqa: PLC0415

    # As apprise reads an address: what follows a # is no fragment.
    parts = plugin.parse_url(url.replace("/#", "/%23"))
    if not parts:
        return None
    service: NotifyBase = plugin(**parts, asset=AppriseAsset(), tag=set())
    return service


def plugin_of(scheme: str) -> Any:
    """The class that speaks ``scheme``; None where no file says so plainly."""
    from apprise import NotifyBase, plugins  # noqa: PLC0415

    for found in pkgutil.iter_modules(plugins.__path__):
        if not _speaks(Path(plugins.__path__[0]) / found.name, scheme):
            continue
        module = importlib.import_module(f"{plugins.__name__}.{found.name}")
        classes: list[Any] = [held for held in vars(module).values() if isinstance(held, type)]
        for plugin in classes:
            # As apprise asks it: of the class, though it is written for an instance.
            if issubclass(plugin, NotifyBase) and scheme in plugin.schemas(plugin):
                return plugin
    return None


def _speaks(place: Path, scheme: str) -> bool:
    files = place.glob("*.py") if place.is_dir() else [place.with_suffix(".py")]
    return any(
        f'"{scheme}"' in spoken
        for file in files
        for spoken in _SPOKEN.findall(file.read_text(encoding="utf-8"))
    )
