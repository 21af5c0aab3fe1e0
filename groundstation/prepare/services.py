"""The open services that the station can ask, with their terms: one table, and no other place names
them. Addresses and terms are from their public documentation and from memory; none of them was
reached when this was written, so read the terms before you rely on them.
"""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """Somebody who gives something away. ``address`` is "" where each person must name it;
    ``credit`` is what has to stand beside what is made of it, ``terms`` what they ask for, and
    ``learns`` what they come to know."""

    name: str
    gives: str
    address: str
    licence: str
    credit: str
    terms: str
    learns: str


FORECAST: Final = Service(
    name="Open-Meteo",
    gives="winds aloft as JSON, on pressure levels up to 10 hPa",
    address="https://api.open-meteo.com",
    licence="CC BY 4.0",
    credit="Open-Meteo.com (CC BY 4.0), from NOAA GFS",
    terms="free where nothing is earned by it, below 10,000 calls a day; a question of this program"
    " counts as about 60",
    learns="about where it is launched",
)
FORECAST_MODEL: Final = "gfs_global"
"""Its levels reach 10 hPa, 31 km; those of most others end at 30 or 50 hPa."""

FORECAST_RUNS: Final = "ncep_gfs025"
"""Under this name the service tells when the run was made that it gives as that model."""

ENSEMBLE: Final = Service(
    name="Open-Meteo, ensembles",
    gives="winds aloft of each member of an ensemble, where it has them on pressure levels",
    address="https://ensemble-api.open-meteo.com",
    licence="CC BY 4.0",
    credit="Open-Meteo.com (CC BY 4.0)",
    terms="as above; each member counts",
    learns="about where it is launched",
)
GRIB: Final = Service(
    name="NOAA NOMADS",
    gives="winds aloft as GRIB2 of GFS, cut to a region by its filter page; give the file to winds",
    address="",
    licence="public domain",
    credit="NOAA/NCEP GFS",
    terms="at most about a request in ten seconds",
    learns="which region",
)
TERRAIN: Final = Service(
    name="Terrain Tiles, Open Data on AWS",
    gives="heights as .hgt tiles, from SRTM and others",
    address="https://s3.amazonaws.com/elevation-tiles-prod/skadi",
    licence="open, with credit to each source",
    credit="Terrain Tiles (Mapzen): SRTM courtesy of NASA/USGS and the sources of its attribution",
    terms="no account; be sparing",
    learns="which degrees of the map",
)
VILLAGES: Final = Service(
    name="GeoNames",
    gives="villages and hamlets by country",
    address="https://download.geonames.org/export/dump",
    licence="CC BY 4.0",
    credit="Place names: GeoNames (https://www.geonames.org), CC BY 4.0"
    " (https://creativecommons.org/licenses/by/4.0/), reduced to name, position, population and"
    " country",
    terms="a file a country; no account",
    learns="which countries",
)
MAP: Final = Service(
    name="a daily build of OpenStreetMap as PMTiles, such as Protomaps gives",
    gives="streets, water, woods, buildings",
    address="",
    licence="ODbL",
    credit="© OpenStreetMap contributors (ODbL)",
    terms="a build is named by its date; regions by HTTP ranges, no whole copies each day",
    learns="which region",
)
ONLINE_MAP: Final = Service(
    name="OpenStreetMap's standard tiles",
    gives="the online map of the page, to a browser whose person agreed",
    address="https://tile.openstreetmap.org",
    licence="ODbL",
    credit="© OpenStreetMap contributors",
    terms="its tile usage policy: only what a person looks at, with a Referer, cached as told",
    learns="which places a phone looks at, and its address on the network",
)

SERVICES: Final = (FORECAST, ENSEMBLE, GRIB, TERRAIN, VILLAGES, MAP, ONLINE_MAP)


def table() -> str:
    """As it stands in the README."""
    lines = ["| who | gives | licence | terms | learns |", "|---|---|---|---|---|"]
    lines += [
        f"| {service.name} | {service.gives} | {service.licence} | {service.terms} |"
        f" {service.learns} |"
        for service in SERVICES
    ]
    return "\n".join(lines)
