"""What decoders of every kind say of bytes that hold no position."""

from groundstation.decoders.decoder import MAX_FRAME_BYTES
from groundstation.records import Reason, Unreadable


def unreadable(detail: str) -> Unreadable:
    return Unreadable(reason=Reason.UNREADABLE, detail=detail)


def too_long(data: bytes, limit: int = MAX_FRAME_BYTES) -> Unreadable | None:
    """The verdict on a frame of more than ``limit`` bytes, which a framer may have cut off."""
    if len(data) <= limit:
        return None
    return Unreadable(
        reason=Reason.TOO_LONG, detail=f"The frame is longer than {limit} bytes and is not read."
    )


def beyond(latitude_deg: float, longitude_deg: float) -> Unreadable | None:
    """The verdict on degrees that are nowhere on the earth."""
    if abs(latitude_deg) <= 90.0 and abs(longitude_deg) <= 180.0:
        return None
    return Unreadable(
        reason=Reason.IMPOSSIBLE,
        detail=f"There is no place at latitude {latitude_deg:g}, longitude {longitude_deg:g}.",
    )
