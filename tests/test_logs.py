"""What is kept out of the log."""

import logging

import pytest
from aiohttp.http_exceptions import BadStatusLine

from groundstation.logs import start_logging


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
