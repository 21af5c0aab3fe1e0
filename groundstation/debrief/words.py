"""Days and times of day as reports tell them, in UTC."""

from datetime import UTC, datetime, timedelta


def day(time_utc: float) -> str:
    return _moment(time_utc).strftime("%Y-%m-%d")


def clock(time_utc: float) -> str:
    return _moment(time_utc).strftime("%H:%M:%S")


def _moment(time_utc: float) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=round(time_utc))
