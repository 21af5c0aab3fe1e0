"""A season as a track table, and what really happened in it."""

import json

from groundstation.simulation.forms.common import header, iso_utc
from groundstation.simulation.forms.form import INVENTED
from groundstation.simulation.season import Season

PAYLOAD, TRACKER = "kanalas-1", "Q0HAB-11"


def season_track(season: Season, lines: tuple[str, ...] = ()) -> bytes:
    """A track CSV, marked as invented."""
    rows = [
        f"{iso_utc(fix.time_utc)},{fix.latitude_deg:.6f},{fix.longitude_deg:.6f},"
        f"{'' if fix.altitude_m is None else f'{fix.altitude_m:.1f}'},{PAYLOAD},{TRACKER}\n"
        for fix in season.heard
    ]
    head = header((*lines, INVENTED)) + "time,lat,lon,alt_m,payload,tracker\n"
    return (head + "".join(rows)).encode()


def season_truth(season: Season) -> bytes:
    """What really happened, in order, as one JSON object."""
    events = [{"event": what.value, "time": iso_utc(at)} for what, at in season.happened]
    return (json.dumps({"invented": True, "events": events}, indent=2) + "\n").encode()
