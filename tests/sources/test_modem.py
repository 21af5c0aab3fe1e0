"""A modem's audio loop: text becomes sound with noise in it, and comes back by a program's output.

minimodem (GPL) is Debian's general modem for frequency-shift keying; it stands on both ends.
"""

import shutil
import subprocess
import wave
from pathlib import Path

import numpy as np
import pytest

from groundstation.clock import SystemClock
from groundstation.decoders.build import build_decoder
from groundstation.decoders.checksums import crc16_ccitt_false
from groundstation.decoders.delimited import Checksum, DelimitedSettings
from groundstation.errors import SourceError
from groundstation.records import Report, Unreadable
from groundstation.sources.command import CommandSettings, CommandSource
from groundstation.sources.health import HealthRecorder
from tests.support.keeper import Keeper

pytestmark = pytest.mark.live

LINES = 12
DECODER = DelimitedSettings(
    columns=("tracker", "", "time", "lat", "lon", "alt_m"),
    start="$$",
    checksum=Checksum.CRC16,
    time_format="hms",
)


def line(number: int) -> str:
    body = f"Q0HAB-11,{number},0900{number:02},47.10000,{20.3 + 0.001 * number:.5f},{900 + number}"
    return f"$${body}*{crc16_ccitt_false(body.encode()):04X}\n"


def spoken(modem: str, path: Path) -> None:
    text = "".join(line(number) for number in range(LINES))
    subprocess.run(
        [modem, "--tx", "--file", str(path), "--volume", "0.5", "300"],
        input=text.encode(), check=True,
    )  # fmt: skip


def noisy(path: Path, share: float) -> None:
    """White noise of ``share`` of the tones' amplitude over it, always the same."""
    with wave.open(str(path)) as file:
        form, sound = file.getparams(), np.frombuffer(file.readframes(file.getnframes()), np.int16)
    noise = np.random.default_rng(7).normal(0.0, share * np.abs(sound).max(), len(sound))
    with wave.open(str(path), "w") as file:
        file.setparams(form)
        file.writeframes(np.clip(sound + noise, -32_768, 32_767).astype(np.int16).tobytes())


@pytest.mark.parametrize(("noise", "least", "most"), [(0.0, LINES, LINES), (1.0, 1, LINES - 1)])
async def test_text_through_a_modem_and_noise_is_read_right_or_not_at_all(
    tmp_path: Path, noise: float, least: int, most: int
) -> None:
    modem = shutil.which("minimodem")
    if modem is None:
        pytest.skip("minimodem is not installed")
    sound = tmp_path / "heard.wav"
    spoken(modem, sound)
    noisy(sound, noise)
    command = (modem, "--rx", "--quiet", "--file", str(sound), "300")
    source = CommandSource(
        CommandSettings(name="modem", command=command, decoder=DECODER), SystemClock()
    )
    keeper = Keeper()
    with pytest.raises(SourceError, match="ended with 0"):
        await source.run(keeper, HealthRecorder("modem", "command", SystemClock()))
    decoder = build_decoder(DECODER)
    reads = [one for frame in keeper.frames for one in decoder.decode(frame.data, 1_778_922_060.0)]
    reports = [one for one in reads if isinstance(one, Report)]
    assert least <= len(reports) <= most
    for report in reports:
        number = round((report.longitude_deg - 20.3) / 0.001)
        assert report.altitude_m == 900 + number, "what is read is what was sent"
    if noise:
        assert any(isinstance(one, Unreadable) for one in reads), "the rest is refused, and kept"
