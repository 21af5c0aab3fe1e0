"""Figures as PNG and the page as PDF, looked at by other programs."""

import asyncio
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from matplotlib.image import imread

from groundstation.debrief import pictures as module
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.pictures import SCALE, pictures
from groundstation.debrief.report import report_html
from groundstation.errors import ConfigurationError
from groundstation.html import print_pdf
from tests.support.browser import CHROMIUM
from tests.support.flown import flight_log, track
from tests.support.live_station import LiveStation

REPLAY = Path(__file__).resolve().parents[2] / "replay" / "normal.csv"
PLAN = Path(__file__).resolve().parents[2] / "config" / "flight.toml"

browser = pytest.mark.skipif(
    not CHROMIUM.exists() and "CI" not in os.environ, reason=f"there is no {CHROMIUM}"
)


@pytest.fixture(scope="module")
def flight(shared: Path) -> FlightLog:
    return flight_log(track(shared, "f01").every(5))


@pytest.mark.slow
def test_each_figure_is_a_picture_with_words(flight: FlightLog, tmp_path: Path) -> None:
    """matplotlib reads them; a caption that was left out would leave its strip white."""
    html = report_html(flight)
    made = list(pictures(html))
    assert len(made) == html.count("<figure>") >= 6
    assert [name for name, _ in made][1] == "02-height-over-time.png"
    assert len({name for name, _ in made}) == len(made)
    for name, png in made:
        path = tmp_path / name
        path.write_bytes(png)
        seen = imread(path)
        assert seen.shape[1] == 620 * SCALE
        caption, drawn = seen[-25 * SCALE :, :, :3], seen[: -30 * SCALE, :, :3]
        assert (caption.min(axis=2) < 0.6).sum() > 200, name
        assert (drawn.min(axis=2) < 0.6).sum() > 1_000, name


@pytest.mark.slow
def test_lines_end_at_the_frame(flight: FlightLog, tmp_path: Path) -> None:
    """A plan far above the flight is cut off there, not drawn over the words."""
    from groundstation.flight.settings import PlanSettings  # noqa: PLC0415

    html = report_html(flight, PlanSettings(burst_altitude_m=90_000.0))
    [png] = [png for name, png in pictures(html) if "height-over" in name]
    path = tmp_path / "heights.png"
    path.write_bytes(png)
    above = imread(path)[: 6 * SCALE, 100 * SCALE :, :3]
    assert above.min() == 1.0


def test_a_machine_without_fonts_is_told(
    flight: FlightLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "FONT_FOLDERS", ("/nowhere",))
    with pytest.raises(ConfigurationError, match="no font"):
        list(pictures(report_html(flight)))


@pytest.mark.live
@browser
def test_the_page_is_printed(flight: FlightLog, tmp_path: Path) -> None:
    page, out = tmp_path / "report.html", tmp_path / "report.pdf"
    page.write_text(report_html(flight), encoding="utf-8")
    print_pdf.write_pdf(page, out)
    data = out.read_bytes()
    assert data.startswith(b"%PDF-")
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", data)) <= 12


def test_without_a_browser_it_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(print_pdf, "BROWSERS", ("no-such-browser",))
    with pytest.raises(ConfigurationError, match="in any browser and print it"):
        print_pdf.write_pdf(tmp_path / "page.html", tmp_path / "page.pdf")


@pytest.mark.live
@pytest.mark.slow
@browser
@pytest.mark.asyncio
async def test_the_whole_command(tmp_path: Path) -> None:
    """A rehearsal's own database; what it taught narrows the next plan."""
    station = LiveStation(
        tmp_path,
        '[[payload]]\nname = "kanalas-1"\n[[payload.tracker]]\nid = "Q0HAB-11"\n[[source]]\n'
        f'name = "recorded"\nkind = "recording"\npath = "{REPLAY}"\n',
        500.0,
    )
    await station.start(1_778_920_200.0 - 60.0)
    # What has come is not yet followed where the machine is slow.
    await station.until(lambda told: told["sources"][0]["state"] == "ended")
    await station.reached("landed")
    await station.stop()
    done = await asyncio.to_thread(
        run, "debrief", station.database, "--plan", PLAN, "--out", tmp_path / "report.html",
        "--figures", tmp_path / "figures", "--pdf", tmp_path / "report.pdf",
        "--lessons", tmp_path / "lessons.toml", "--config", tmp_path / "station.toml",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "figures as PNG" in done.stdout
    assert "1 lesson in" in done.stdout
    assert len(list((tmp_path / "figures").glob("*.png"))) >= 8
    assert (tmp_path / "report.pdf").stat().st_size > 20_000
    html = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "Next time" in html
    assert "drag coefficient" in html
    done = await asyncio.to_thread(run, "plan", PLAN, "--past", tmp_path / "lessons.toml")
    assert done.returncode == 0, done.stderr
    assert "By 1 past flight" in done.stdout


def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "groundstation", *map(str, arguments)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
