"""The unit for systemd: written, judged by systemd's own tool, and taken away."""

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from groundstation.errors import ConfigurationError
from groundstation.jobs.install import UNIT, installed, removed, unit_text
from tests.support.typed import typed

MOST_EXPOSED = 2.0
TEXT = """
[station]
data_dir = "/var/lib/groundstation"
[[target]]
url = { credential = "phone-url" }
[[source]]
password = { credential = "broker" }
[web]
key = "credential:station-key.pem"
"""


@pytest.fixture
def config(tmp_path: Path) -> Path:
    path = tmp_path / "station.toml"
    path.write_text(TEXT)
    return path


def test_doing_it_again_changes_nothing(config: Path, tmp_path: Path) -> None:
    units = tmp_path / "units"
    first = list(installed(config, units, start=False))
    text = (units / UNIT).read_text()
    assert f"LoadCredential=phone-url:{tmp_path}/phone-url" in text
    assert f"LoadCredential=broker:{tmp_path}/broker" in text
    assert f"LoadCredential=station-key.pem:{tmp_path}/station-key.pem" in text
    assert f"run --config {config}" in text
    assert any("written" in line for line in first)
    assert "to do: systemctl daemon-reload" in first
    again = list(installed(config, units, start=False))
    assert f"{units / UNIT} is as it should be" in again
    assert (units / UNIT).read_text() == text
    assert any("removed" in line for line in removed(units))
    assert not (units / UNIT).exists()
    assert list(removed(units)) == [f"there is no {units / UNIT}"]


def test_systemd_finds_little_to_object_to(config: Path, tmp_path: Path) -> None:
    """systemd-analyze security, which judges a unit from 0 (safe) to 10 (exposed)."""
    program = shutil.which("systemd-analyze")
    if program is None:
        missing = "systemd-analyze is not installed"
        if os.environ.get("CI"):
            pytest.fail(missing)
        pytest.skip(missing)
    unit = tmp_path / UNIT
    unit.write_text(unit_text(config))
    judged = subprocess.run(
        [program, "security", "--offline=true", str(unit)],
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    found = re.search(r"exposure level for \S+: ([0-9.]+)", judged)
    assert found is not None, judged
    assert float(found[1]) <= MOST_EXPOSED
    checked = subprocess.run(
        [program, "verify", str(unit)], capture_output=True, text=True, check=False
    )
    complaints = [
        line
        for line in checked.stderr.splitlines()
        if UNIT in line and "is not executable" not in line
    ]
    assert complaints == []


@pytest.mark.parametrize("folder", ["data", "/srv/data"])
def test_data_where_the_service_may_not_write(config: Path, folder: str, tmp_path: Path) -> None:
    config.write_text(TEXT.replace("/var/lib/groundstation", folder))
    with pytest.raises(ConfigurationError, match="set it to /var/lib/groundstation"):
        list(installed(config, tmp_path / "units", start=False))


def test_what_cannot_be(tmp_path: Path) -> None:
    with pytest.raises(ConfigurationError, match="Give --config"):
        list(installed(None, tmp_path, start=False))
    with pytest.raises(ConfigurationError, match="cannot read"):
        list(installed(tmp_path / "none.toml", tmp_path, start=False))
    spaced = tmp_path / "a b.toml"
    spaced.write_text(TEXT)
    with pytest.raises(ConfigurationError, match="no spaces"):
        list(installed(spaced, tmp_path, start=False))


def test_the_command(config: Path, tmp_path: Path) -> None:
    done = typed("install", "--config", config, "--unit-dir", tmp_path / "units", "--no-start")
    assert done.returncode == 0
    assert "written" in done.stdout


def test_the_folder_of_the_copies_may_be_written(config: Path) -> None:
    config.write_text(
        TEXT.replace("[[target]]", 'backup_dir = "/media/stick/copies"\n[[target]]', 1)
    )
    assert "\nReadWritePaths=-/media/stick/copies\n" in unit_text(config)
    config.write_text(TEXT.replace("[[target]]", 'backup_dir = "copies"\n[[target]]', 1))
    with pytest.raises(ConfigurationError, match="absolute"):
        unit_text(config)


def test_it_never_gives_up(config: Path) -> None:
    """Five quick failures must not leave the station down for good."""
    assert "StartLimitIntervalSec=0" in unit_text(config)


def test_a_page_for_friends_that_the_service_can_t_write_is_refused(config: Path) -> None:
    config.write_text(f'{TEXT}[friends]\nfolder = "friends"\n')
    with pytest.raises(ConfigurationError, match=r"friends\.folder is friends, where the service"):
        unit_text(config)
    config.write_text(f'{TEXT}[friends]\nfolder = "/var/lib/groundstation/friends"\n')
    assert "run --config" in unit_text(config)
