"""Where the usual published thresholds for unmanned free balloons lie, and how far a flight is from
them. It tells thresholds, never that something is allowed.

Sources: 14 CFR 101.1(a)(4), as of 1 January 2019; Commission Implementing Regulation (EU) No
923/2012 (SERA), Appendix 2, as on legislation.gov.uk on 31 January 2020, whose classes are those of
ICAO Annex 2. What follows from them is told in short, partly from memory: read the text itself.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from groundstation.planning.gear import PackageSettings
from groundstation.planning.settings import FlightFile
from groundstation.units import INCH_M, POUND_FORCE_N, POUND_KG

OUNCE_KG: Final = POUND_KG / 16.0

CAUTION: Final = (
    "These are the usual published thresholds; they may be out of date, or others where you are."
    " Ask your authority, get what authorisation is needed, and follow licensed and experienced"
    " practice. Nothing here says that a flight is allowed."
)
US: Final = "14 CFR 101.1(a)(4), 2019"
EUROPE: Final = "SERA Appendix 2 (EU 923/2012), 2020"


class BalloonClass(StrEnum):
    """Of SERA and ICAO Annex 2."""

    LIGHT = "light"
    MEDIUM = "medium"
    HEAVY = "heavy"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One threshold. ``over`` is None where the file does not say enough; ``value`` and ``limit``
    are in ``unit``."""

    source: str
    what: str
    value: float | None
    limit: float
    unit: str
    over: bool | None

    @property
    def margin(self) -> float | None:
        """How far below the limit, in its unit; negative beyond it."""
        return None if self.value is None else self.limit - self.value


def united_states(flight: FlightFile) -> tuple[Finding, ...]:
    """The four of 101.1(a)(4); each is strictly "more than". One that is exceeded brings the flight
    under Subpart D. All but the last are of payload packages."""
    total = sum(piece.mass_kg for piece in flight.package)
    heaviest = max(piece.mass_kg for piece in flight.package)
    several = len(flight.package) > 1
    return (
        _four_pounds(flight),
        _over(US, "one package", heaviest, 6.0 * POUND_KG, "kg"),
        _over(US, "two or more packages", total if several else 0.0, 12.0 * POUND_KG, "kg"),
        _over(
            US, "force that separates the payload", flight.suspension_force_n,
            50.0 * POUND_FORCE_N, "N",
        ),
    )  # fmt: skip


def subpart_d(findings: tuple[Finding, ...]) -> bool | None:
    """Whether 14 CFR Part 101, Subpart D, is about this flight; None where that is not known."""
    if any(finding.over for finding in findings):
        return True
    return None if any(finding.over is None for finding in findings) else False


def europe(flight: FlightFile) -> tuple[Finding, ...]:
    """What makes a balloon heavy, and then what makes it medium."""
    total = sum(piece.mass_kg for piece in flight.package)
    heaviest = max(piece.mass_kg for piece in flight.package)
    return (
        _least(EUROPE, "heavy: all packages together", total, 6.0, "kg"),
        _least(EUROPE, "heavy: one package", heaviest, 3.0, "kg"),
        _dense(flight),
        _least(
            EUROPE, "heavy: force that separates the payload", flight.suspension_force_n, 230.0, "N"
        ),
        _least(EUROPE, "medium: two or more packages together", total, 4.0, "kg"),
    )


def european_class(flight: FlightFile) -> tuple[BalloonClass, bool]:
    """The class, and whether the file says enough to be sure that it is not a heavier one."""
    *heavy, medium = europe(flight)
    if any(finding.over for finding in heavy):
        return BalloonClass.HEAVY, True
    sure = all(finding.over is not None for finding in heavy)
    return (BalloonClass.MEDIUM if medium.over else BalloonClass.LIGHT), sure


def what_follows(flight: FlightFile) -> Iterator[str]:
    """In short; the text itself counts."""
    yield (
        "United States, every balloon: no operation that is a hazard to people or property (101.7)."
    )
    if subpart_d(united_states(flight)) is not False:
        yield (
            "United States, Subpart D: limits of 101.33 on clouds, visibility, airports and"
            " congested areas; two ways to end the payload's and the balloon's flight, and a radar"
            " reflector (101.35); notice 6 to 24 hours before to the nearest FAA facility, and at"
            " the launch (101.37); position recorded every two hours, the authority told when that"
            " fails, and one hour before the descent (101.39)."
        )
    kind, sure = european_class(flight)
    yield (
        f"Europe and ICAO: class {kind.value}{'' if sure else ', or a heavier one'}. No operation"
        " without authorisation from the State of launch, nor across another State without its own."
    )
    if kind is not BalloonClass.LIGHT or not sure:
        yield (
            "Europe and ICAO, medium and heavy: early notice seven days before, then notice before"
            " and at the launch; position recorded every two hours up to 18,000 m, every 24 hours"
            " above; the air traffic services told at once when that fails, and one hour before the"
            " descent."
        )
    if kind is BalloonClass.HEAVY:
        yield "Europe and ICAO, heavy: two ways to end the flight, and a radar reflector."


def density_kgm2(package: PackageSettings) -> float | None:
    """Mass over the smallest face."""
    face = package.face_m2
    return None if face is None else package.mass_kg / face


def _four_pounds(flight: FlightFile) -> Finding:
    """A package of more than four pounds, and more than three ounces per square inch."""
    limit = 3.0 * OUNCE_KG / INCH_M**2
    what = "density of a package of more than 4 lb, by its smallest face"
    return _densest(flight, US, what, lambda mass: mass > 4.0 * POUND_KG, limit)


def _dense(flight: FlightFile) -> Finding:
    what = "heavy: density of a package of 2 kg or more, by its smallest face"
    return _densest(flight, EUROPE, what, lambda mass: mass >= 2.0, 130.0)


def _densest(
    flight: FlightFile, source: str, what: str, counts: Callable[[float], bool], limit: float
) -> Finding:
    mine = [piece for piece in flight.package if counts(piece.mass_kg)]
    known = [found for piece in mine if (found := density_kgm2(piece)) is not None]
    over: bool | None = any(found > limit for found in known)
    if not over and len(known) < len(mine):
        over = None
    value = max(known, default=None if mine else 0.0)
    return Finding(source=source, what=what, value=value, limit=limit, unit="kg/m²", over=over)


def _over(source: str, what: str, value: float | None, limit: float, unit: str) -> Finding:
    over = None if value is None else value > limit
    return Finding(source=source, what=what, value=value, limit=limit, unit=unit, over=over)


def _least(source: str, what: str, value: float | None, limit: float, unit: str) -> Finding:
    over = None if value is None else value >= limit
    return Finding(source=source, what=what, value=value, limit=limit, unit=unit, over=over)
