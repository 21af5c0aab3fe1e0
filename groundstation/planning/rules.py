"""Where the usual published thresholds for unmanned free balloons lie, and how far a flight is from
them. It tells thresholds, never that something is allowed.

Sources, both read on 26 November 2026: 14 CFR Part 101, 101.1 in the edition of 1 January 2019,
101.35(b) to (d) in that of 1 January 2024; Commission Implementing Regulation (EU) No 923/2012
(SERA), Appendix 2, as on legislation.gov.uk on 31 January 2020, whose classes are those of ICAO
Annex 2. What follows from them is told in short; where that is from memory it says so: read the
text itself.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from groundstation.language.catalogue import N_, _
from groundstation.planning.course import FL600_M, Course
from groundstation.planning.gear import PackageSettings
from groundstation.planning.launch_time import launch_text
from groundstation.planning.settings import FlightFile
from groundstation.planning.sun import SUNSET_DEG, sun_elevation_deg
from groundstation.units import FOOT_M, INCH_M, POUND_FORCE_N, POUND_KG

SERA: Final = N_("SERA Appendix 2")
OUNCE_KG: Final = POUND_KG / 16.0

CAUTION: Final = N_(
    "These are the usual published thresholds; they may be out of date, or others where you are."
    " Ask your authority, get what authorisation is needed, and follow licensed and experienced"
    " practice. Nothing here says that a flight is allowed."
)
READ: Final = N_("read 2026-11-26")
US_2019: Final = N_("edition of 2019-01-01, read 2026-11-26")
US_2024: Final = N_("edition of 2024-01-01, read 2026-11-26")
EUROPE_2020: Final = N_("EU 923/2012 as of 2020-01-31, read 2026-11-26")
LEAST_SHADE_STEPS: Final = 20
"""Every so many steps of a course the sun is looked at: 2 km of height, six minutes."""


class BalloonClass(StrEnum):
    """Of SERA and ICAO Annex 2; English."""

    LIGHT = N_("light")
    MEDIUM = N_("medium")
    HEAVY = N_("heavy")


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One threshold. ``over`` is None where the file does not say enough; ``value`` and ``limit``
    are in ``unit``, which is a ``kind`` of ``Shown``. One that is about other flights does not
    apply, and has no value; ``edition`` is what was read, and when. Texts are English."""

    source: str
    edition: str
    what: str
    value: float | None
    limit: float
    unit: str
    kind: str
    over: bool | None
    applies: bool = True

    @property
    def cited(self) -> str:
        """Its source in the language that is spoken."""
        return self.source.replace(SERA, _(SERA))


def united_states(flight: FlightFile) -> tuple[Finding, ...]:
    """The four of 101.1(a)(4); each is strictly "more than". One that is exceeded brings the flight
    under Subpart D. All but the last are of payload packages."""
    total = sum(piece.mass_kg for piece in flight.package)
    heaviest = max(piece.mass_kg for piece in flight.package)
    several = len(flight.package) > 1
    return (
        _four_pounds(flight),
        _us("(ii)", N_("one package"), heaviest, 6.0 * POUND_KG),
        _us("(iii)", N_("two or more packages"), total, 12.0 * POUND_KG, applies=several),
        _us(
            "(iv)", N_("force that separates the payload"), flight.suspension_force_n,
            50.0 * POUND_FORCE_N, "N", "force",
        ),
    )  # fmt: skip


def equipment(flight: FlightFile) -> tuple[Finding, ...]:
    """What of 101.35 depends on the flight file; it is about flights under Subpart D."""
    trails = flight.antenna_m > 0.0
    antenna = flight.antenna_force_n if trails else None
    limit = 50.0 * POUND_FORCE_N
    return (
        Finding(
            source="14 CFR 101.35(c)", edition=US_2024,
            what=N_(
                "force that breaks a trailing antenna, beyond which it needs pennants every 50 ft"
            ),
            value=antenna, limit=limit, unit="N", kind="force",
            over=(None if antenna is None else antenna > limit) if trails else False,
            applies=trails,
        ),
        Finding(
            source="14 CFR 101.35(d)", edition=US_2024,
            what=N_("suspension, beyond which it needs banded colours or pennants by day"),
            value=flight.string_m, limit=50.0 * FOOT_M, unit="m", kind="size",
            over=flight.string_m > 50.0 * FOOT_M,
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
        _sera("(c)(1)", N_("heavy: all packages together"), total, 6.0),
        _sera("(c)(2)", N_("heavy: one package"), heaviest, 3.0),
        _dense(flight),
        _sera(
            "(c)(4)", N_("heavy: force that separates the payload"), flight.suspension_force_n,
            230.0, "N", "force",
        ),
        _sera(
            "(b)", N_("medium: two or more packages together"), total, 4.0,
            applies=len(flight.package) > 1,
        ),
    )  # fmt: skip


def european_class(flight: FlightFile) -> tuple[BalloonClass, bool]:
    """The class, and whether the file says enough to be sure that it is not a heavier one."""
    *heavy, medium = europe(flight)
    if any(finding.over for finding in heavy):
        return BalloonClass.HEAVY, True
    sure = all(finding.over is not None for finding in heavy)
    return (BalloonClass.MEDIUM if medium.over else BalloonClass.LIGHT), sure


def what_follows(
    flight: FlightFile, course: Course | None = None, launch_utc: float = 0.0
) -> Iterator[str]:
    """In short; the text itself counts. With its course it tells whether the flight is dark."""
    yield _(
        "United States, every balloon: no operation that is a hazard to people or property (14 CFR"
        " 101.7, from memory)."
    )
    dark = None if course is None else dark_hours(course, launch_utc)
    if subpart_d(united_states(flight)) is not False:
        yield _(
            "United States, Subpart D: not below 2,000 ft in an airport's airspace without"
            " authorisation, not where clouds cover more than five tenths, not below 60,000 ft"
            " with less than 5 miles of visibility, not in its first 1,000 ft over a congested"
            " area, and no hazard where it comes down (101.33, from memory); two ways to end the"
            " payload's and the balloon's flight, and a radar reflector (101.35(a)); notice 6 to"
            " 24 hours before to the nearest FAA facility, and at the launch (101.37, from memory);"
            " position recorded every two hours, the authority told when that fails, and one hour"
            " before the descent (101.39, {read}).",
            read=_(READ),
        )
        yield _(
            "United States, Subpart D: below 60,000 ft between sunset and sunrise lights that are"
            " seen for 5 miles and flash 40 to 100 times a minute (101.35(b)); a trailing antenna"
            " that takes more than 50 lbf to break with pennants at every 50 ft, seen for a mile"
            " (101.35(c)); a suspension of more than 50 ft by day in banded colours or with"
            " pennants, seen for a mile (101.35(d); {edition}).",
            edition=_(US_2024),
        )
    if dark is not None:
        first, last = (launch_text(at, flight.zone) for at in dark)
        yield _(
            "Dark: it flies below 60,000 ft with the sun down, from {first} to {last}. Lights are"
            " asked for where 101.35(b) holds; elsewhere ask.",
            first=first, last=last,
        )  # fmt: skip
    kind, sure = european_class(flight)
    yield _(
        "Europe and ICAO: class {kind} (SERA Appendix 2, 1). No operation without authorisation"
        " from the State of launch, nor across another State without its own (2.1, 2.2;"
        " {edition}).",
        kind=_(kind.value) if sure else _("{kind}, or a heavier one", kind=_(kind.value)),
        edition=_(EUROPE_2020),
    )
    if kind is not BalloonClass.LIGHT or not sure:
        yield _(
            "Europe and ICAO, medium and heavy: early notice seven days before (5.1.1), then notice"
            " before and at the launch; position recorded every two hours up to 18,000 m, every 24"
            " hours above; the air traffic services told at once when that fails, and one hour"
            " before the descent (6, from memory)."
        )
    if kind is BalloonClass.HEAVY:
        yield _("Europe and ICAO, heavy: two ways to end the flight, and a radar reflector (3.3).")


def dark_hours(course: Course, launch_utc: float) -> tuple[float, float] | None:
    """From when to when it is below 60,000 ft with the sun down; None where it never is."""
    steps = [*range(0, len(course.time_s), LEAST_SHADE_STEPS), len(course.time_s) - 1]
    dark = [
        launch_utc + float(course.time_s[n])
        for n in steps
        if course.altitude_m[n] < FL600_M
        and sun_elevation_deg(
            float(course.latitude_deg[n]), float(course.longitude_deg[n]),
            launch_utc + float(course.time_s[n]),
        ) < SUNSET_DEG
    ]  # fmt: skip
    return (dark[0], dark[-1]) if dark else None


def density_kgm2(package: PackageSettings) -> float | None:
    """Mass over the smallest face."""
    face = package.face_m2
    return None if face is None else package.mass_kg / face


def _four_pounds(flight: FlightFile) -> Finding:
    """A package of more than four pounds, and more than three ounces per square inch."""
    limit = 3.0 * OUNCE_KG / INCH_M**2
    what = N_("density of a package of more than 4 lb, by its smallest face")
    return _densest(
        flight, ("14 CFR 101.1(a)(4)(i)", US_2019), what, lambda mass: mass > 4.0 * POUND_KG, limit
    )


def _dense(flight: FlightFile) -> Finding:
    what = N_("heavy: density of a package of 2 kg or more, by its smallest face")
    source = "SERA Appendix 2, 1(c)(3)", EUROPE_2020
    return _densest(flight, source, what, lambda mass: mass >= 2.0, 130.0)


def _densest(
    flight: FlightFile,
    source: tuple[str, str],
    what: str,
    counts: Callable[[float], bool],
    limit: float,
) -> Finding:
    mine = [piece for piece in flight.package if counts(piece.mass_kg)]
    known = [found for piece in mine if (found := density_kgm2(piece)) is not None]
    over: bool | None = any(found > limit for found in known)
    if not over and len(known) < len(mine):
        over = None
    return Finding(
        source=source[0], edition=source[1], what=what, value=max(known, default=None),
        limit=limit, unit="kg/m²", kind="density", over=over, applies=bool(mine),
    )  # fmt: skip


def _us(
    part: str,
    what: str,
    value: float | None,
    limit: float,
    unit: str = "kg",
    kind: str = "mass",
    *,
    applies: bool = True,
) -> Finding:
    value = value if applies else None
    over = (None if value is None else value > limit) if applies else False
    return Finding(
        source=f"14 CFR 101.1(a)(4){part}", edition=US_2019, what=what, value=value, limit=limit,
        unit=unit, kind=kind, over=over, applies=applies,
    )  # fmt: skip


def _sera(
    part: str,
    what: str,
    value: float | None,
    limit: float,
    unit: str = "kg",
    kind: str = "mass",
    *,
    applies: bool = True,
) -> Finding:
    value = value if applies else None
    over = (None if value is None else value >= limit) if applies else False
    return Finding(
        source=f"{SERA}, 1{part}", edition=EUROPE_2020, what=what, value=value,
        limit=limit, unit=unit, kind=kind, over=over, applies=applies,
    )  # fmt: skip
