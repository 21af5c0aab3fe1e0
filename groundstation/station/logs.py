"""The log: plain lines on standard error, with the time in UTC."""

import logging
import os
import sys
import time

PRIORITIES = {logging.DEBUG: 7, logging.INFO: 6, logging.WARNING: 4, logging.ERROR: 3}
"""As syslog counts them (RFC 5424, 6.2.1)."""

LEVELS = ("debug", "info", "warning", "error")


def start_logging(level: str) -> None:
    """Log from ``level`` up. Under systemd the journal adds the time itself."""
    journal = "JOURNAL_STREAM" in os.environ
    form = "%(levelname)s %(name)s: %(message)s"
    formatter = _JournalFormatter(form) if journal else _plain(form)
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(formatter)
    logging.basicConfig(level=level.upper(), handlers=[handler], force=True)
    logging.getLogger("aiohttp.server").addFilter(_is_ours)
    # Below this they write whole packets, topics and addresses.
    for chatty in ("aiohttp", "asyncio", "mqtt", "urllib3", "requests"):
        logging.getLogger(chatty).setLevel(max(logging.WARNING, logging.getLogger().level))


def _plain(form: str) -> logging.Formatter:
    formatter = logging.Formatter(f"%(asctime)sZ {form}", datefmt="%Y-%m-%dT%H:%M:%S")
    formatter.converter = time.gmtime
    return formatter


class _JournalFormatter(logging.Formatter):
    """Tells the journal how grave each line is, and that a traceback is one entry's lines
    (sd-daemon(3)): so that ``journalctl -p warning`` finds them."""

    def format(self, record: logging.LogRecord) -> str:
        priority = PRIORITIES.get(record.levelno, 6)
        return "\n".join(f"<{priority}>{line}" for line in super().format(record).splitlines())


def _is_ours(record: logging.LogRecord) -> bool:
    """Leave out what strangers do wrong: half a message, or none that is HTTP. They would fill the
    log with our tracebacks."""
    error = record.exc_info[1] if record.exc_info else None
    theirs = type(error).__module__ == "aiohttp.http_exceptions"
    return not (theirs or isinstance(error, ConnectionError))
