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
    # Below this they write whole packets, topics and addresses.
    for chatty in ("aiohttp", "asyncio", "mqtt", "urllib3", "requests"):
        logging.getLogger(chatty).setLevel(max(logging.WARNING, logging.getLogger().level))
