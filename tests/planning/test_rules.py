"""Thresholds against packages that were worked out by hand from the texts of the rules."""

import re
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from groundstation.flight.settings import PlanSettings
from groundstation.physics.wind import WindsAloft
from groundstation.planning import rules
from groundstation.planning.course import course
from groundstation.planning.gear import BalloonSettings, PackageSettings, ParachuteSettings
from groundstation.planning.rules import BalloonClass
from groundstation.planning.settings import FlightFile, SiteSettings


def flight(
    *packages: tuple[float, tuple[float, float] | None], force: float | None = 100.0
) -> FlightFile:
    return FlightFile(
        name="kanalas-1",
        site=SiteSettings(latitude_deg=47.1, longitude_deg=20.3),
        package=tuple(
            PackageSettings(name=f"box {n}", mass_kg=mass, smallest_face_m=face)
            for n, (mass, face) in enumerate(packages)
        ),
        balloon=BalloonSettings(mass_kg=1.0),
        parachute=ParachuteSettings(diameter_m=1.2),
        suspension_force_n=force,
    )


WIDE, SMALL = (0.20, 0.20), (0.10, 0.10)


@pytest.mark.parametrize(
    ("given", "under", "kind"),
    [
        # 1.9 kg: over 4 lb, so it is the density that counts; light whatever it is.
        (flight((1.9, WIDE)), False, BalloonClass.LIGHT),
        (flight((1.9, SMALL)), True, BalloonClass.LIGHT),
        # 2.5 kg on 10 cm by 10 cm is 25 g/cm²: over both.
        (flight((2.5, SMALL)), True, BalloonClass.HEAVY),
        # 2.8 kg on 20 cm by 20 cm: 7 g/cm², but 6.17 lb.
        (flight((2.8, WIDE)), True, BalloonClass.LIGHT),
        # Two of 1.9 kg: 8.4 lb and 3.8 kg.
        (flight((1.9, WIDE), (1.9, WIDE)), False, BalloonClass.LIGHT),
        (flight((2.0, WIDE), (2.0, WIDE)), False, BalloonClass.MEDIUM),
        (flight((1.5, WIDE), (1.5, WIDE), (1.5, WIDE), (1.5, WIDE)), True, BalloonClass.HEAVY),
        (flight((3.0, (0.5, 0.5))), True, BalloonClass.HEAVY),
        (flight((1.0, WIDE), force=230.0), True, BalloonClass.HEAVY),
        (flight((1.0, WIDE), force=222.0), False, BalloonClass.LIGHT),
    ],
)
def test_packages(given: FlightFile, under: bool, kind: BalloonClass) -> None:
    assert rules.subpart_d(rules.united_states(given)) is under
    assert rules.european_class(given) == (kind, True)


def test_exactly_six_pounds_is_not_more_than_six_pounds() -> None:
    """The text says "more than" throughout; SERA says "or more"."""
    six = flight((6.0 * 0.45359237, (0.5, 0.5)))
    assert rules.subpart_d(rules.united_states(six)) is False
    assert rules.european_class(flight((3.0, (0.6, 0.6))))[0] is BalloonClass.HEAVY


def test_limits_in_si() -> None:
    """3 oz/in² is 13.183 g/cm², 50 lbf are 222.41 N, 12 lb are 5.443 kg (NIST SP 811)."""
    found = rules.united_states(flight((1.0, WIDE)))
    assert found[0].limit / 10.0 == pytest.approx(13.183, abs=1e-3)
    assert found[2].limit == pytest.approx(5.443, abs=1e-3)
    assert found[3].limit == pytest.approx(222.41, abs=0.01)


def test_what_the_file_does_not_say_is_not_taken_for_good() -> None:
    assert rules.subpart_d(rules.united_states(flight((1.9, None)))) is None
    assert rules.subpart_d(rules.united_states(flight((1.0, WIDE), force=None))) is None
    assert rules.european_class(flight((2.5, None)))[1] is False
    told = " ".join(rules.what_follows(flight((2.5, None), force=None)))
    assert "or a heavier one" in told
    assert "101.37" in told


def test_nothing_says_that_it_is_legal() -> None:
    told = " ".join((*rules.what_follows(flight((0.5, WIDE))), rules.CAUTION)).lower()
    for word in ("legal", "permitted", "you may", "safe"):
        assert word not in told
    assert "ask your authority" in told


def test_thresholds_that_are_about_other_flights_are_told_apart() -> None:
    """One box of 1 kg: nothing of four pounds, no second package, no antenna."""
    one = flight((1.0, WIDE))
    found = (*rules.united_states(one), *rules.equipment(one), *rules.europe(one))
    apart = {finding.source for finding in found if not finding.applies}
    assert apart == {
        "14 CFR 101.1(a)(4)(i)", "14 CFR 101.1(a)(4)(iii)", "14 CFR 101.35(c)",
        "SERA Appendix 2, 1(c)(3)", "SERA Appendix 2, 1(b)",
    }  # fmt: skip
    assert all(finding.value is None and finding.over is False
               for finding in found if not finding.applies)  # fmt: skip


def test_every_threshold_has_its_paragraph_and_the_day_it_was_read() -> None:
    one = replace(flight((2.5, WIDE), (2.5, WIDE)), antenna_m=20.0, antenna_force_n=300.0)
    for finding in (*rules.united_states(one), *rules.equipment(one), *rules.europe(one)):
        assert re.search(r"\((a|b|c|d)\)", finding.source), finding.source
        assert "read 20" in finding.edition


def test_long_suspension_lines_and_strong_antennas_are_told() -> None:
    """14 CFR 101.35(c) and (d): 50 lbf are 222.4 N, 50 ft are 15.24 m; each is "more than"."""
    limit_n, limit_m = 50.0 * 4.4482216152605, 50.0 * 0.3048
    for string_m, force_n, over in (
        (limit_m, limit_n, False), (limit_m + 0.01, limit_n + 0.1, True),
    ):  # fmt: skip
        one = replace(flight((2.8, WIDE)), string_m=string_m, antenna_m=20.0,
                      antenna_force_n=force_n)  # fmt: skip
        assert [finding.over for finding in rules.equipment(one)] == [over, over]
    unknown = replace(flight((2.8, WIDE)), antenna_m=20.0)
    assert rules.equipment(unknown)[0].over is None
    told = " ".join(rules.what_follows(flight((2.8, WIDE))))
    for words in ("lights that are seen for 5 miles and flash 40 to 100 times a minute (101.35(b))",
                  "pennants at every 50 ft", "a suspension of more than 50 ft"):  # fmt: skip
        assert words in told


def test_a_flight_in_the_dark_is_told_so() -> None:
    """Let go at 20:00 UTC in May at 47 N, after sunset at about 18:10; at noon it is light."""
    one = flight((2.8, WIDE))
    aloft = WindsAloft.of("calm", np.array([0.0, 4e4]), np.zeros(2), np.zeros(2), 1.0)
    for hour, dark in ((20, True), (10, False)):
        at = datetime(2026, 5, 16, hour, tzinfo=UTC).timestamp()
        middle = course(one.site, PlanSettings(), aloft, at)
        told = " ".join(rules.what_follows(one, middle, at))
        words = "Dark: it flies below 60,000 ft with the sun down, from 2026-05-16 20:00"
        assert (words in told) is dark
