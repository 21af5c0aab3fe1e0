"""What of a plan's files is not used, or lies so far from the flight that it is hardly meant."""

import math
from collections.abc import Iterator
from typing import Final

from groundstation.geo.keep_outs import KeepOuts, KeptOut
from groundstation.language.catalogue import _, ngettext
from groundstation.physics.geodesy import distance_m
from groundstation.planning.settings import FlightFile
from groundstation.planning.windfield import WindField

FAR_M: Final = 500_000.0
"""Own choice: no flight for this drifts so far, and latitude and longitude that were swapped lie
further off nearly everywhere."""

WINDS_FAR_M: Final = 300_000.0
"""Own choice: further than soundings stand apart where they are dense."""


def unused(given: dict[str, object]) -> Iterator[str]:
    """``given`` are the options that rest on winds, where there are none."""
    for name, value in given.items():
        if value is not None:
            yield _(
                "{option} is not used: where it lands is not known without --winds; give a file",
                option=name,
            )


def far_keep_outs(keep_outs: KeepOuts, flight: FlightFile) -> Iterator[str]:
    """Areas that nothing of this flight can come near."""
    far = [area for area in keep_outs.kept if _away_m(area, flight) > FAR_M]
    if not far:
        return
    swapped = [area for area in far if _away_m(area, flight, swapped=True) < FAR_M]
    why = _("are they of this flight?")
    if swapped:
        why = _("latitude and longitude look swapped: GeoJSON has the longitude first")
    yield ngettext(
        "keep-outs: {count} of them lies more than {distance} from the site; {why}",
        "keep-outs: {count} of them lie more than {distance} from the site; {why}",
        len(far), distance=flight.shown.text("distance", FAR_M), why=why,
    )  # fmt: skip


def far_winds(field: WindField, flight: FlightFile) -> Iterator[str]:
    """Winds of places of which none is near."""
    here = (flight.site.latitude_deg, flight.site.longitude_deg)
    places = {wind.place for wind in field.winds if wind.place is not None}
    nearest = min((distance_m(*here, *place) for place in places), default=0.0)
    if nearest > WINDS_FAR_M:
        yield _(
            "The winds are of a place {distance} from the site: get some of nearer",
            distance=flight.shown.text("distance", nearest),
        )


def _away_m(area: KeptOut, flight: FlightFile, *, swapped: bool = False) -> float:
    """To its nearest corner; what the site lies in has corners that are as far as it is wide."""
    site = flight.site
    return min(
        (
            distance_m(site.latitude_deg, site.longitude_deg, float(lat), float(lon))
            for part in area.parts
            for lat, lon in (part if swapped else part[:, ::-1])
            if abs(lat) <= 90.0
        ),
        default=math.inf,
    )
