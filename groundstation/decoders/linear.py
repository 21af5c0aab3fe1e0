"""People's own regular expressions, by an engine whose time grows with the text and no faster.

With Python's ``re`` one pattern of a person and one mail of a stranger can keep the station busy
for ever. RE2 (Cox, "Regular Expression Matching in the Wild", 2010) takes the usual syntax without
what needs that: back-references, and looking ahead or behind.
"""

from collections.abc import Mapping
from typing import Any, Final, Protocol, cast

import re2

from groundstation.errors import ConfigurationError

_QUIET: Final = re2.Options()
_QUIET.log_errors = False


class Match(Protocol):
    """As of Python's ``re``."""

    def group(self, *groups: int) -> Any: ...

    def groupdict(self) -> dict[str, Any]: ...


class LinearPattern(Protocol):
    """As of Python's ``re``."""

    groupindex: Mapping[str, int]
    groups: int

    def search(self, text: str) -> Match | None: ...


def compiled(pattern: str, what: str) -> LinearPattern:
    """Raises ``ConfigurationError`` for what is no expression; ``what`` it is called there."""
    try:
        return cast("LinearPattern", re2.compile(pattern, _QUIET))
    except re2.error as error:
        why = error.args[0]
        why = why.decode("utf-8", "replace") if isinstance(why, bytes) else str(why)
    if "perl operator" in why or "escape sequence" in why:
        raise ConfigurationError(
            f"{what} is no regular expression of RE2: {why}; it takes no (?=, (?!, (?<=, (?<!, (?>"
            " and no \\1, which can take for ever; write it without"
        )
    raise ConfigurationError(f"{what} is no regular expression: {why}")
