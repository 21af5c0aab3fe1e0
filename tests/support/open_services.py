"""Services that speak as those of ``prepare/services.py`` do by their public documentation: a
forecast as JSON with its run, terrain tiles, files of countries, and a map that gives pieces."""

import gzip
import io
import json
import threading
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

import numpy as np

RUN_UTC = 1_778_889_600.0  # 2026-05-16T00:00:00Z
HEIGHTS_M = {1000: 110.0, 850: 1_500.0, 500: 5_600.0, 250: 10_400.0, 100: 16_200.0, 50: 20_600.0,
             10: 31_000.0}  # fmt: skip
"""Rough geopotential heights (US Standard Atmosphere 1976)."""


def eastward_ms(level: int, hour: float, lon: float) -> float:
    """An invented wind: stronger aloft, in the east, and as time goes by."""
    return 5.0 + 10.0 * (level < 300) + 0.5 * hour + 2.0 * (lon - 20.0)


@dataclass
class Services:
    """``asked`` are the paths; ``files`` what lies at them; ``break_after`` bytes of the next large
    answer the line is cut; ``ranges`` says whether pieces are given."""

    asked: list[str] = field(default_factory=list)
    files: dict[str, bytes] = field(default_factory=dict)
    break_after: int | None = None
    ranges: bool = True
    members: int = 0
    run_utc: float | None = RUN_UTC
    address: str = ""

    def forecast(self, path: str) -> bytes:
        query = {name: values[0] for name, values in parse_qs(urlsplit(path).query).items()}
        lats, lons = (query[name].split(",") for name in ("latitude", "longitude"))
        first, last = (
            datetime.fromisoformat(query[name]).replace(tzinfo=UTC)
            for name in ("start_date", "end_date")
        )
        hours = int((last - first).total_seconds() // 3600) + 24
        times = [first + timedelta(hours=n) for n in range(hours)]
        # Cells of a quarter of a degree, as models have.
        documents = [
            self._document(round(4 * float(lat)) / 4, round(4 * float(lon)) / 4, times)
            for lat, lon in zip(lats, lons, strict=True)
        ]
        return json.dumps(documents if len(documents) > 1 else documents[0]).encode()

    def _document(self, lat: float, lon: float, times: list[datetime]) -> dict[str, Any]:
        hourly: dict[str, Any] = {"time": [f"{at:%Y-%m-%dT%H:%M}" for at in times]}
        units = {"time": "iso8601"}
        endings = ["", *(f"_member{n:02d}" for n in range(1, self.members))]
        for level, height in HEIGHTS_M.items():
            for n, ending in enumerate(endings):
                names = [
                    f"{what}_{level}hPa{ending}"
                    for what in ("wind_speed", "wind_direction", "geopotential_height")
                ]
                # Members lie 2 m/s apart, around the middle.
                off = 2.0 * (n - (len(endings) - 1) / 2.0)
                speed = [eastward_ms(level, at.hour, lon) + off for at in times]
                for name, values, unit in zip(
                    names, (speed, [270.0] * len(times), [height] * len(times)),
                    ("m/s", "°", "m"), strict=True,
                ):  # fmt: skip
                    hourly[name], units[name] = values, unit
        return {
            "latitude": lat, "longitude": lon, "utc_offset_seconds": 0, "hourly": hourly,
            "hourly_units": units,
        }  # fmt: skip


@contextmanager
def serving(services: Services) -> Iterator[Services]:
    class Answers(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            services.asked.append(self.path)
            path = urlsplit(self.path).path
            if path in ("/v1/forecast", "/v1/ensemble"):
                return self._send(200, services.forecast(self.path))
            if path.endswith("/static/meta.json") and services.run_utc is not None:
                told = {"last_run_initialisation_time": int(services.run_utc)}
                return self._send(200, json.dumps(told).encode())
            data = services.files.get(path)
            if data is None:
                return self._send(404, b"not here")
            tag = f'"{len(data)}-{hash(data) & 0xFFFF:x}"'
            wanted = self.headers.get("Range")
            if wanted is None or not services.ranges or self.headers.get("If-Range", tag) != tag:
                return self._send(200, data, {"ETag": tag})
            first, _, last = wanted.removeprefix("bytes=").partition("-")
            piece = data[int(first) : int(last) + 1 if last else len(data)]
            end = int(first) + len(piece) - 1
            told_range = f"bytes {first}-{end}/{len(data)}"
            return self._send(206, piece, {"ETag": tag, "Content-Range": told_range})

        def _send(self, status: int, body: bytes, headers: dict[str, str] | None = None) -> None:
            self.send_response(status)
            for name, value in (headers or {}).items():
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            cut = services.break_after
            if cut is not None and len(body) > cut:
                services.break_after = None
                self.wfile.write(body[:cut])
                self.wfile.flush()
                self.close_connection = True
                return
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Answers)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    services.address = f"http://127.0.0.1:{server.server_port}"
    try:
        yield services
    finally:
        server.shutdown()
        server.server_close()


def packed_tile(height_m: int) -> bytes:
    """A level .hgt.gz tile of three arc seconds."""
    return gzip.compress(np.full((1201, 1201), height_m, dtype=">i2").tobytes(), 1)


def country(code: str, rows: list[tuple[str, float, float, str, str, int]]) -> bytes:
    """A file of a country: (name, latitude, longitude, class, code, population)."""
    lines = []
    for n, (name, lat, lon, kind, feature, people) in enumerate(rows):
        columns = [str(n), name, name, "", str(lat), str(lon), kind, feature, code, "", "", "", "",
                   "", str(people), "", "", "Europe/Budapest", "2026-01-01"]  # fmt: skip
        lines.append("\t".join(columns))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("readme.txt", "Invented.")
        archive.writestr(f"{code}.txt", "\n".join(lines) + "\n")
    return out.getvalue()
