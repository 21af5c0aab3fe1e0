"""The types of what the page gets, for its scripts.

``python -m groundstation.web.page_types`` writes them to ``web/page/state.d.ts``."""

from pathlib import Path

from groundstation.schema.javascript import types_text
from groundstation.web.description import RECORDS

FILE = Path(__file__).with_name("page") / "state.d.ts"


def text() -> str:
    return types_text(RECORDS)


if __name__ == "__main__":
    FILE.write_text(text(), encoding="utf-8")
