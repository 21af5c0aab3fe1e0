"""Chase vehicles: known apart from the flights, and told in the alerts."""

from dataclasses import replace

import pytest

from groundstation.alerts.wording import WordingSettings, render
from groundstation.flight.events import Observed
from groundstation.flight.flights import Flights
from groundstation.flight.settings import VehicleSettings
from groundstation.physics.geodesy import distance_bearing
from groundstation.records import AlertKind, Reason, Report, Verdict
from groundstation.simulation.profiles import Profile, settings_of
from tests.support.flights import ANY, T0, fold, report, reports_of, simulated

CAR = VehicleSettings(name="car", tracker=("Q0HAB-9", "phone"))


def seen(flights: Flights, number: int, at_s: float, one: Report) -> Verdict:
    (verdict,) = flights.observed(
        Observed(report_id=number, source="test", received_utc=T0 + at_s, report=one)
    )
    assert isinstance(verdict, Verdict)
    return verdict


def test_a_vehicle_is_no_payload() -> None:
    """Even where the payload takes any tracker; whichever of its trackers is newest counts."""
    flights = Flights((ANY,), (CAR,))
    first = report(0, 85.0, lat=47.3, tracker="q0hab-9")
    assert seen(flights, 1, 1, first).fix is not None
    assert flights.state("kanalas-1").motion.last is None
    assert seen(flights, 2, 2, first).reason is Reason.DUPLICATE
    second = report(30, None, lat=47.4, tracker="PHONE")
    assert seen(flights, 3, 31, second).fix is not None
    assert seen(flights, 4, 32, report(20, None, lat=48.0, tracker="phone")).fix is None
    lost = replace(second, latitude_deg=0.0, longitude_deg=0.0, time_utc=T0 + 60)
    assert seen(flights, 5, 61, lost).reason is Reason.NO_FIX
    [fix] = flights.vehicles.positions
    assert (fix.payload, fix.latitude_deg) == ("car", 47.4)


@pytest.mark.slow
def test_alerts_tell_how_far_it_is_from_there() -> None:
    told = fold(reports_of(simulated(settings_of(Profile.NORMAL, 2))), ANY)
    [soon] = [alert for alert in told.alerts if alert.kind is AlertKind.TOUCHDOWN_SOON]
    flights = Flights((ANY,), (CAR,))
    heard_s = soon.time_utc - T0
    seen(flights, 1, heard_s - 10, report(heard_s - 11, 90.0, lat=47.2, tracker="phone"))
    positions = flights.vehicles.positions
    body = render(soon, WordingSettings(), positions).body
    assert soon.landing is not None
    away, bearing = distance_bearing(
        47.2, 20.3, soon.landing.latitude_deg, soon.landing.longitude_deg
    )
    assert f"{away / 1000:.1f} km" in body
    assert f"({round(bearing) % 360}°) of car\n" in body
    later = replace(soon, time_utc=soon.time_utc + 600.0)
    assert "of car, 10 min ago" in render(later, WordingSettings(), positions).body
    gone = replace(soon, time_utc=soon.time_utc + 7_200.0)
    assert "car" not in render(gone, WordingSettings(), positions).body
