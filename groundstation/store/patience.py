"""When a target is told: at once, if nobody has seen it in time, or not at night."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from groundstation.flight.alert_records import Message
from groundstation.records import Urgency

_TIME_OF_DAY: Final = re.compile(r"([01][0-9]|2[0-3]):([0-5][0-9])-([01][0-9]|2[0-3]):([0-5][0-9])")


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """``unseen_s``: told only of what nobody has acknowledged for so long (0: at once).

    ``quiet`` is the begin and end of a time of day, in minutes, in ``timezone``, in which only what
    is urgent is told. At most ``most_an_hour`` messages that are not urgent go out in an hour.
    """

    unseen_s: float = 0.0
    quiet: tuple[int, int] | None = None
    timezone: str = "UTC"
    most_an_hour: int | None = None

    def not_before_utc(self, message: Message, now_utc: float) -> float:
        """The earliest real time at which ``message`` may go out; 0 where that is now."""
        earliest = now_utc + self.unseen_s if self.unseen_s else 0.0
        if self.quiet is None or message.alert.urgency is Urgency.HIGH:
            return earliest
        moment = datetime.fromtimestamp(max(earliest, now_utc), UTC).astimezone(
            ZoneInfo(self.timezone)
        )
        begin, end = self.quiet
        minute = moment.hour * 60 + moment.minute
        inside = begin <= minute < end if begin <= end else minute >= begin or minute < end
        if not inside:
            return earliest
        over = moment.replace(hour=end // 60, minute=end % 60, second=0, microsecond=0)
        if over <= moment:
            over += timedelta(days=1)
        return over.timestamp()


AT_ONCE: Final = Patience()


def quiet_time(text: str) -> tuple[int, int] | None:
    """Begin and end, in minutes of the day, of a time such as "22:00-06:00"; else None."""
    found = _TIME_OF_DAY.fullmatch(text)
    if found is None:
        return None
    begin_h, begin_m, end_h, end_m = map(int, found.groups())
    return 60 * begin_h + begin_m, 60 * end_h + end_m
