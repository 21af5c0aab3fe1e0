"""What can go wrong, as a small tree by who acts next.

A bad packet is not in it: that is data (see ``records.Unreadable`` and ``records.Verdict``).
"""


class GroundstationError(Exception):
    """Any failure this program names. ``exit_code`` is what the process ends with."""

    exit_code = 1


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
