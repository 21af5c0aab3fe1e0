"""Where a flight would land of which nothing is seen yet: the ensemble of whole flights with the
site and the time of the plan as its only evidence."""

from typing import Final

import numpy as np

from groundstation.flight import missed_messages, whole
from groundstation.flight.landed import region_of
from groundstation.flight.priors import Beginning, Prior
from groundstation.flight.settings import FlightSettings
from groundstation.flight.windbelief import belief
from groundstation.physics.drifts import Places
from groundstation.physics.geodesy import Plane
from groundstation.physics.region import highest_density
from groundstation.records import Landing, Phase

STOOD_S: Final = 600.0  # own choice: it is at the site for a while before it is let go


def if_launched(settings: FlightSettings, launch_utc: float, now_utc: float) -> Landing | None:
    """The landing of a flight that is let go at ``launch_utc`` from the site of the plan; None
    where the plan has no site."""
    site = settings.launch_site
    if site is None:
        return None
    start_m = site.altitude_m or 0.0
    ground_m = start_m if settings.ground_m is None else settings.ground_m
    begin = Beginning(early_s=0.0, late_s=0.0, from_m=start_m, ground_m=ground_m)
    still = np.zeros(2)
    stood = np.array([-STOOD_S, 0.0])
    flights = whole.fly(
        settings,
        whole.Evidence(
            plane=Plane(site.latitude_deg, site.longitude_deg),
            zero_utc=launch_utc,
            prior=Prior.of(settings.plan, begin),
            winds=belief(settings.aloft, launch_utc, site.latitude_deg),
            places=Places(stood, still, still),
            due=missed_messages.Due.of(stood, STOOD_S, 0.0),
            ceiling_m=None,
            now_s=0.0,
        ),
    )
    x, y = flights.x_m, flights.y_m
    point = float(np.median(x)), float(np.median(y))
    lat, lon = flights.plane.to_latlon(*point)
    away = np.hypot(x - point[0], y - point[1])
    early, middle, late = (float(at) for at in np.quantile(flights.wait_s, (0.05, 0.5, 0.95)))
    slow, rate, fast = (
        float(quantile) for quantile in np.quantile(flights.rate_ms, (0.05, 0.5, 0.95))
    )
    half, most = highest_density(np.stack([x, y], axis=1), (0.5, 0.9))
    plan = "burst and descent as planned" if settings.plan.made else "no plan of burst and fall"
    winds = "no forecast" if settings.aloft is None else settings.aloft.name
    return Landing(
        payload=settings.payload,
        time_utc=now_utc,
        evidence_utc=now_utc,
        phase=Phase.PRELAUNCH,
        latitude_deg=float(lat),
        longitude_deg=float(lon),
        ground_m=flights.ground_m,
        eta_utc=launch_utc + middle,
        eta_90_utc=(launch_utc + early, launch_utc + late),
        descent_rate_ms=rate,
        region_50=region_of(half, flights.plane),
        region_90=region_of(most, flights.plane),
        radius_50_m=float(np.quantile(away, 0.5)),
        radius_90_m=float(np.quantile(away, 0.9)),
        basis=f"nothing is flown yet: {plan}, {winds}",
        descent_rate_90_ms=(slow, fast),
    )
