"""When it is let go, as a person writes it: with its offset, or in the flight's own time zone."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from groundstation.errors import ConfigurationError
from groundstation.language.dates import day_text


def launch_moment(text: str | None, timezone: str) -> float:
    """Seconds since 1970. A time without Z or an offset is that of ``timezone``. Raises
    ``ConfigurationError`` for what is no time, or one that the change of clocks leaves out or has
    twice."""
    if text is None:
        raise ConfigurationError("when is it let go? Give --launch, or launch in the flight file")
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise ConfigurationError(
            f"launch {text!r} is not a time such as 2026-05-16T08:30:00Z, or 2026-05-16T10:30 in"
            " the flight file's timezone"
        ) from error
    if moment.tzinfo is not None:
        return moment.timestamp()
    zone = ZoneInfo(timezone)
    first, second = (moment.replace(tzinfo=zone, fold=fold).timestamp() for fold in (0, 1))
    if first != second:
        raise ConfigurationError(
            f"launch {text!r} is within the change of clocks in {timezone}; give it in UTC, such as"
            " 2026-05-16T08:30:00Z"
        )
    return first


def launch_text(time_utc: float, timezone: str) -> str:
    """In UTC, and what the clock on the field shows where that is another."""
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=round(time_utc))
    text = f"{day_text(moment)} {moment:%H:%M} UTC"
    local = moment.astimezone(ZoneInfo(timezone))
    if local.utcoffset():
        day = "" if local.date() == moment.date() else f"{day_text(local)} "
        text += f" ({day}{local:%H:%M} {timezone})"
    return text
