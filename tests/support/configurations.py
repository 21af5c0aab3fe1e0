"""Configurations that several tests begin with."""

from typing import Final

DATA: Final = '[station]\ndata_dir = "data"\n'

REHEARSAL: Final = """
[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "Q0HAB-11"
[[source]]
name = "recorded"
kind = "recording"
path = "resource:rehearsal.txt"
"""
"""The bundled flight, played."""

PLANNED: Final = f"""{DATA}
[[payload]]
name = "kanalas-1"
flight = "flight.toml"
[[payload.tracker]]
id = "Q0HAB-11"
[[source]]
name = "net"
kind = "tcp"
host = "127.0.0.1"
port = 1
decoder = {{ kind = "aprs" }}
"""
"""A payload with a flight file beside it, and a source that finds nobody."""
