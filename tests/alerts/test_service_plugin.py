"""A service of apprise is found without loading the others. Held against apprise's own table."""

import subprocess
import sys
from pathlib import Path
from typing import Any

from apprise.manager_plugins import NotificationManager

from groundstation.alerts.service_plugin import plugin_of, service_of

BY_APPRISE_ITSELF = {"dbus", "kde", "qt"}
"""Their schemes are worked out when their file is run, and no station has their desktop."""

DELIVERED = """
import asyncio, sys
from groundstation.alerts.services import ServiceTarget
from groundstation.settings.secret import Secret
from tests.support.alert_samples import message
from tests.support.http_target import HttpTarget

async def main():
    async with HttpTarget() as receiver:
        target = ServiceTarget("phone", Secret(f"json://127.0.0.1:{receiver.port}/"))
        await target.deliver(message("burst"))
        assert len(receiver.posts) == 1

asyncio.run(main())
names = [name.split(".")[2] for name in sys.modules if name.startswith("apprise.plugins.")]
print(*sorted(set(names)))
"""


def test_each_scheme_is_spoken_by_the_class_that_apprise_has_for_it() -> None:
    table: Any = NotificationManager()  # type: ignore[no-untyped-call]
    schemes = table.schemas()
    assert len(schemes) > 200
    found = {scheme: plugin_of(scheme) for scheme in schemes}
    assert {scheme for scheme, plugin in found.items() if plugin is None} <= BY_APPRISE_ITSELF
    assert all(plugin is table[scheme] for scheme, plugin in found.items() if plugin is not None)


def test_what_is_no_address_of_a_service_is_left_to_apprise() -> None:
    assert service_of("no address at all") is None
    assert service_of("unheard-of://somewhere/") is None
    assert service_of("https://hooks.example.org/a/b") is None


def test_a_message_is_delivered_without_loading_the_other_services() -> None:
    done = subprocess.run(
        [sys.executable, "-c", DELIVERED], capture_output=True, text=True, check=True,
        cwd=Path(__file__).resolve().parents[2],
    )  # fmt: skip
    loaded = set(done.stdout.split())
    assert "custom_json" in loaded
    assert len(loaded) < 10
