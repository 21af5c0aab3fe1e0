"""What is kept out of the log."""

import logging
import os
import subprocess
import sys

import pytest
from aiohttp.http_exceptions import BadStatusLine

from groundstation.station.logs import start_logging


@pytest.mark.parametrize(
    ("error", "kept"),
    [(BadStatusLine("GET"), False), (ConnectionResetError(), False), (ValueError("ours"), True)],
)
def test_strangers_do_not_fill_the_log(
    error: Exception, kept: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    before = logging.getLogger().handlers[:]
    try:
        start_logging("info")
        logging.getLogger("aiohttp.server").error("while handling", exc_info=error)
        assert ("while handling" in capsys.readouterr().err) is kept
    finally:
        logging.getLogger().handlers[:] = before


def test_the_journal_is_told_how_grave_each_line_is() -> None:
    """sd-daemon(3): a number in angle brackets before each line, as syslog counts."""
    script = (
        "import logging; from groundstation.station.logs import start_logging;"
        " start_logging('info'); logging.getLogger('x').warning('two\\nlines');"
        " logging.getLogger('x').info('fine')"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True,
        env={**os.environ, "JOURNAL_STREAM": "8:1"},
    )  # fmt: skip
    assert done.stderr.splitlines() == ["<4>WARNING x: two", "<4>lines", "<6>INFO x: fine"]
