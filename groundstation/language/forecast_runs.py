"""When a forecast was made and how old it is. Names of winds hold it in English, since the database
and the replay's JSON have them."""

import re
from datetime import UTC, datetime
from typing import Final

from groundstation.language.catalogue import _

_RUN: Final = re.compile(r"run of (\d{4}-\d\d-\d\d \d\d:\d\d) UTC, (-?\d+) h before")


def run_text(issued_utc: float, launch_utc: float) -> str:
    """When a forecast was made, and how long that was before the launch, in English."""
    run = datetime.fromtimestamp(issued_utc, UTC)
    return f"run of {run:%Y-%m-%d %H:%M} UTC, {(launch_utc - issued_utc) / 3600.0:.0f} h before"


def with_runs(text: str) -> str:
    """``text`` with each run in it in the language that is spoken."""
    return _RUN.sub(
        lambda found: _("run of {when} UTC, {hours} h before", when=found[1], hours=found[2]), text
    )
