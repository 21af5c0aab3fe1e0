"""What all forms share: times in text, the header, and a checksum by its definition."""

from datetime import UTC, datetime


def iso_utc(time_utc: float) -> str:
    """``2026-05-16T08:30:00Z``, to the nearest whole second."""
    return datetime.fromtimestamp(round(time_utc), UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def clock_utc(time_utc: float) -> str:
    """``083000``, to the nearest whole second."""
    return datetime.fromtimestamp(round(time_utc), UTC).strftime("%H%M%S")


def degrees_minutes(degrees: float, width: int, digits: int, signs: str) -> tuple[str, str]:
    """``("4706.0000", "N")``: degrees with ``width`` places, minutes with ``digits`` decimals."""
    steps = round(abs(degrees) * 60.0 * 10**digits)
    whole, rest = divmod(steps, 60 * 10**digits)
    minutes = f"{rest / 10**digits:0{digits + 3}.{digits}f}"
    return f"{whole:0{width}d}{minutes}", signs[0] if degrees >= 0.0 else signs[1]


def header(lines: tuple[str, ...]) -> str:
    """Comment lines, each after ``# ``."""
    return "".join(f"# {' '.join(line.split())}\n" for line in lines)
