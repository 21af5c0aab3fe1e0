"""Fixtures for all tests."""

import gc
import logging
import os
import re
import sqlite3  # noqa: F401  (before ecCodes, which may bring an old one along)
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from xdist.scheduler import LoadFileScheduling

from groundstation.station.heap import keep_freed

# As the command line does, and before numpy is imported: threads only get in each other's way.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# No example has a time limit, and in the inner loop there are fewer (--hypothesis-profile quick).
settings.register_profile("whole", deadline=None)
settings.register_profile("quick", deadline=None, max_examples=20)
settings.load_profile("whole")

pytest_plugins = ["tests.support.no_skips"]

HERE = Path(__file__).parent
LONGEST = (
    "station/test_real_flights.py",
    "station/test_ordeal.py",
    "flight/test_hard_cases.py",
    "station/test_short_faults.py",
    "flight/test_days_without_heights.py",
    "test_scores.py",
    "flight/test_heights_alone.py",
    "station/test_every_way.py",
    "test_replay.py",
    "station/test_from_nothing.py",
    "flight/test_estimate.py",
    "test_readme.py",
    "test_benchmarks.py",
    "flight/test_lead.py",
    "publish/test_two_networks.py",
    "flight/test_chances.py",
    "publish/test_publisher.py",
    "flight/test_alerts.py",
    "web/test_page_in_hungarian.py",
    "station/test_guidance.py",
    "web/test_chase_page.py",
    "station/test_hurried.py",
    "station/test_messenger_rehearsal.py",
    "web/test_first_screen.py",
    "flight/test_days.py",
    "web/test_web_page.py",
    "debrief/test_pictures.py",
    "store/test_disk_faults.py",
    "security/test_api_description.py",
    "flight/test_phases.py",
    "debrief/test_flights.py",
    "station/test_snapshot.py",
    "web/test_reports.py",
    "flight/test_beside_plan.py",
    "station/test_restart.py",
    "planning/test_past.py",
    "debrief/test_report_languages.py",
    "sources/test_mqtt.py",
)
"""The files that take longest, longest first (``pytest --durations=0``, added up by file); what
mostly waits and what computes stand by turns, so that both go on at once."""


APART = (
    "test_scores.py",
    "flight/test_estimate.py",
    "flight/test_hard_cases.py",
    "flight/test_days_without_heights.py",
)
"""Long files whose tests share nothing: each test may run beside the others."""


MARKED_WHOLE = re.compile(r"^pytestmark = (?:\[.*?\]\n|[^\n]*)", re.MULTILINE | re.DOTALL)


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Whether all of a file is left out by its marks: then what it imports is not needed either."""
    left_out = re.findall(r"\bnot (\w+)", str(config.option.markexpr))
    if not left_out or collection_path.suffix != ".py":
        return None
    whole = MARKED_WHOLE.search(collection_path.read_text(encoding="utf-8"))
    marked = whole is not None and any(f"pytest.mark.{name}" in whole[0] for name in left_out)
    return marked or None


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest files, so that no worker is left alone with one at the end."""
    for item in items:
        if isinstance(item, pytest.Function) and hasattr(item.module, "async_playwright"):
            item.add_marker("browser")
    place = {HERE / name: number for number, name in enumerate(LONGEST)}
    items.sort(key=lambda item: place.get(item.path, len(LONGEST)))


def pytest_collection_finish() -> None:
    """What was imported stays to the end: the garbage collector need not look through it again. And
    what estimates free is kept, as in a replay."""
    gc.collect()
    gc.freeze()
    keep_freed()


class ByFile(LoadFileScheduling):  # type: ignore[misc]  # it has no type hints
    """The tests of a file stay with one worker, as they share fixtures, but for those apart."""

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.partition("::")[0]
        return nodeid if file.removeprefix("tests/") in APART else file


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> ByFile:
    return ByFile(config, log)


def shared_folder() -> Path | None:
    """The folder of real flights and soundings, or None where the machine has none."""
    named = os.environ.get("GROUNDSTATION_SHARED")
    if named:
        return Path(named)
    beside = Path(__file__).resolve().parents[2] / "shared"
    return beside if beside.is_dir() else None


@pytest.fixture(scope="session")
def shared() -> Path:
    """Real flights and soundings; skips where there are none, fails where they are promised."""
    folder = shared_folder()
    if folder is None:
        pytest.skip("no folder of real flights; set GROUNDSTATION_SHARED to it")
    if not (folder / "flights" / "index.csv").is_file():
        pytest.fail(f"GROUNDSTATION_SHARED names {folder}, which holds no flights/index.csv")
    return folder


@pytest.fixture(autouse=True)
def _pages_load_again(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """A browser drops what it loads where an interface of the machine comes or goes, as those of
    tests beside it do."""
    if request.node.get_closest_marker("browser") is None:
        return
    from playwright.async_api import Error, Page  # noqa: PLC0415 - a library only these need

    once = Page.goto

    async def again(self: Page, *where: Any, **how: Any) -> Any:
        for _ in range(5):
            try:
                return await once(self, *where, **how)
            except Error as error:
                if "ERR_NETWORK_CHANGED" not in str(error):
                    raise
        return await once(self, *where, **how)

    monkeypatch.setattr(Page, "goto", again)


@pytest.fixture(autouse=True)
def _log_as_python_begins() -> None:
    """A command that ran in this process may have set the log to errors only."""
    logging.getLogger().setLevel(logging.WARNING)
