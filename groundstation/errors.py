"""What can go wrong, as a small tree by who acts next.

A bad packet is not in it: that is data (see ``records.Unreadable`` and ``records.Verdict``).
"""


class Words:
    """A sentence for a person that another language can say, too: ``text`` as the catalogues have
    it, with what is ``given`` for its braces, which may be ``Words`` themselves."""

    __slots__ = ("given", "text")

    def __init__(self, text: str, **given: object) -> None:
        self.text = text
        self.given = given

    def __str__(self) -> str:
        """In English."""
        return self.text.format(**self.given) if self.given else self.text


class GroundstationError(Exception):
    """Any failure this program names. ``exit_code`` is what the process ends with. It is English,
    for the log and the command line; ``words`` can be said in another language."""

    exit_code = 1

    def __init__(self, text: str | Words = "", **given: object) -> None:
        self.words = text if isinstance(text, Words) else Words(text, **given)
        super().__init__(str(self.words))


class ConfigurationError(GroundstationError):
    """The person edits the configuration or the command line."""

    exit_code = 2


class InputFileError(GroundstationError):
    """The person gives another file, or mends this one."""

    exit_code = 3


class SourceError(GroundstationError):
    """The supervisor tries the source again."""

    exit_code = 4


class DeliveryError(GroundstationError):
    """The outbox tries the target again later."""

    exit_code = 5


class StoreError(GroundstationError):
    """The station stops, so that the service manager starts it again."""

    exit_code = 6


class OutOfModelRangeError(GroundstationError, ValueError):
    """A formula was asked for a value outside the range it holds for."""
