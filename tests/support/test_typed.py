"""What a command that is typed within a test's process leaves behind: nothing."""

import logging
from pathlib import Path

from tests.support.configurations import DATA, REHEARSAL
from tests.support.typed import typed


def test_a_command_that_sets_the_log_leaves_that_of_later_tests_alone(tmp_path: Path) -> None:
    config = tmp_path / "station.toml"
    config.write_text(f"{DATA}{REHEARSAL}", encoding="utf-8")
    root = logging.getLogger()
    before = root.level, list(root.handlers)
    typed("check", "--config", config)
    assert (root.level, list(root.handlers)) == before
