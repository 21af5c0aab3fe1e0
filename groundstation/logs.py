"""The log: plain lines on standard error, with the time in UTC."""

import logging
import os
import sys
import time

LEVELS = ("debug", "info", "warning", "error")


def start_logging(level: str) -> None:
    """Log from ``level`` up. Under systemd the journal adds the time itself."""
    journal = "JOURNAL_STREAM" in os.environ
    form = "%(levelname)s %(name)s: %(message)s"
    formatter = logging.Formatter(
        form if journal else f"%(asctime)sZ {form}", datefmt="%Y-%m-%dT%H:%M:%S"
    )
    formatter.converter = time.gmtime
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(formatter)
    logging.basicConfig(level=level.upper(), handlers=[handler], force=True)
    logging.getLogger("aiohttp.server").addFilter(_is_ours)
    # Below this they write whole packets, topics and addresses.
    for chatty in ("aiohttp", "asyncio", "mqtt", "urllib3", "requests"):
        logging.getLogger(chatty).setLevel(max(logging.WARNING, logging.getLogger().level))


def _is_ours(record: logging.LogRecord) -> bool:
    """Leave out what strangers do wrong: half a message, or none that is HTTP. They would fill the
    log with our tracebacks."""
    error = record.exc_info[1] if record.exc_info else None
    theirs = type(error).__module__ == "aiohttp.http_exceptions"
    return not (theirs or isinstance(error, ConnectionError))
