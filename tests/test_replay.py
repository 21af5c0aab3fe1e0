"""The replay command: what it prints, to the byte the same each time, and as others read it."""

import itertools
import json
import os
import re
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from jsonschema_rs import validator_for

from groundstation.errors import InputFileError
from groundstation.jobs.replay import play
from groundstation.records import AlertKind, Phase, Reason
from groundstation.web.description import DESCRIPTION
from tests.support.flights import first_is_quick
from tests.support.typed import typed

REPLAY = Path(__file__).resolve().parents[1] / "replay"
RESOURCES = Path(__file__).resolve().parents[1] / "groundstation" / "resources"
# As the design lays down: the fields of each kind of line, in their order.
FIELDS = {
    "phase": ["kind", "time", "payload", "phase", "since"],
    "landing": [
        "kind", "time", "payload", "phase", "lat", "lon", "ground_m", "eta", "eta_90",
        "descent_rate_ms", "region_50", "region_90", "basis",
    ],
    "alert": ["kind", "time", "payload", "alert", "key", "title", "body"],
    "rejected": ["kind", "time", "reason", "frame"],
}  # fmt: skip


def run(*words: str) -> str:
    done = typed("replay", *words)
    assert done.returncode == 0, done.stderr
    return done.stdout


def run_apart(*words: str, **env: str) -> str:
    """In a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "groundstation", "replay", *words],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, **env},
    )
    return done.stdout


def moment(text: str) -> float:
    assert text.endswith("Z")
    return datetime.fromisoformat(text).timestamp()


@pytest.fixture(scope="module")
def hard() -> list[dict[str, Any]]:
    return [json.loads(line) for line in run(str(REPLAY / "hard.txt"), "--json").splitlines()]


@pytest.mark.slow
def test_the_same_to_the_byte() -> None:
    """In other processes too, with another order of sets and another number of threads."""
    file = str(REPLAY / "normal.csv")
    outs = {
        run_apart(file, "--json", PYTHONHASHSEED=seed, OPENBLAS_NUM_THREADS=threads)
        for seed, threads in (("1", "1"), ("2", "2"), ("3", "1"))
    }
    assert len(outs) == 1


@pytest.mark.slow
def test_lines_have_the_fields_of_the_design(hard: list[dict[str, Any]]) -> None:
    assert {line["kind"] for line in hard} == FIELDS.keys()
    schema = {"components": DESCRIPTION["components"]}
    described = {
        kind: validator_for(
            {
                "$ref": f"#/components/schemas/{kind.capitalize()}Told",
                "unevaluatedProperties": False,
            }
            | schema
        )
        for kind in FIELDS
    }
    for line in hard:
        described[line["kind"]].validate(line)
        wanted = FIELDS[line["kind"]]
        assert [field for field in line if field in wanted] == wanted
        match line["kind"]:
            case "phase":
                assert line["phase"] in set(Phase)
                assert moment(line["since"]) <= moment(line["time"])
            case "landing":
                assert moment(line["eta_90"][0]) <= moment(line["eta"]) <= moment(line["eta_90"][1])
                for region in (line["region_50"], line["region_90"]):
                    assert region["type"] in ("Polygon", "MultiPolygon")
            case "alert":
                assert line["alert"] in set(AlertKind)
            case "rejected":
                assert line["reason"] in set(Reason)


@pytest.mark.slow
def test_lines_come_in_order_of_time(hard: list[dict[str, Any]]) -> None:
    times = [moment(line["time"]) for line in hard]
    assert times == sorted(times)


@pytest.mark.slow
def test_every_packet_ends_as_a_fix_or_with_its_reason(hard: list[dict[str, Any]]) -> None:
    packets = [
        line for line in (REPLAY / "hard.txt").read_bytes().splitlines() if line[:1].isdigit()
    ]
    rejected = [line for line in hard if line["kind"] == "rejected"]
    # Several receivers hear the same packet.
    assert 0 < len(rejected) < len(packets)
    assert {"duplicate", "jump"} <= {line["reason"] for line in rejected}


NUMBER = re.compile(r"[0-9][0-9,]*(?:\.[0-9]+)?")


@pytest.mark.parametrize(
    "words",
    first_is_quick(
        (REPLAY / "normal.csv",),
        (REPLAY / "hard.txt",),
        (RESOURCES / "messenger.csv", "--config", RESOURCES / "messenger.toml"),
    ),
)
@pytest.mark.slow
def test_outcomes_are_as_expected(words: tuple[str | Path, ...]) -> None:
    """Words exactly; numbers to a share that rounding and another numpy may change."""
    said = run(*map(str, words)).splitlines()
    kept = (REPLAY / Path(words[0]).name).with_suffix(".expected")
    expected = kept.read_text(encoding="utf-8").splitlines()
    assert len(said) == len(expected)
    for now, then in zip(said, expected, strict=True):
        if "http" in then or "#" in then:
            continue
        assert NUMBER.sub("0", now) == NUMBER.sub("0", then)
        for a, b in itertools.zip_longest(NUMBER.findall(now), NUMBER.findall(then)):
            # A 90 % region's rim is the last thing to stay the same.
            assert float(a.replace(",", "")) == pytest.approx(
                float(b.replace(",", "")), rel=0.02, abs=2.0 if "." not in b else 0.002
            ), (now, then)


@pytest.mark.slow
def test_speed_is_kept(tmp_path: Path) -> None:
    """Forty seconds of packets at 20 times real time take about two seconds."""
    lines = (REPLAY / "hard.txt").read_bytes().splitlines()
    packets = [line for line in lines if line[:1].isdigit()]
    start = int(packets[0].split(b"\t")[0])
    few = [line for line in packets if int(line.split(b"\t")[0]) <= start + 40]
    file = tmp_path / "few.txt"
    # One that is rejected at each end, so that something is said.
    file.write_bytes(b"\n".join([b"%d\tgarbage" % start, *few, b"%d\tgarbage" % (start + 40)]))
    begun = time.monotonic()
    out = run(str(file), "--json", "--speed", "20")
    took_s = time.monotonic() - begun
    assert out.count("rejected") >= 2
    assert took_s >= 2.0


@pytest.mark.slow
def test_settings_come_from_a_configuration(tmp_path: Path) -> None:
    file = tmp_path / "station.toml"
    file.write_text(
        '[station]\ndata_dir = "data"\nunits = "imperial"\n'
        "[base]\nlatitude_deg = 47.1\nlongitude_deg = 20.3\n"
        '[[payload]]\nname = "kanalas-1"\nground_m = 90\n[[payload.tracker]]\nid = "Q0HAB-11"\n'
        '[[source]]\nkind = "recording"\nname = "x"\npath = "x.txt"\n'
    )
    said = run(str(REPLAY / "normal.csv"), "--config", str(file))
    assert " mi " in said
    assert "of base" in said
    assert " ft" in said


def test_a_file_of_trackers_that_no_payload_has_is_told(tmp_path: Path) -> None:
    """It would else print nothing at all, as if nothing had happened."""
    config = tmp_path / "station.toml"
    config.write_text(
        f'[station]\ndata_dir = "{tmp_path}"\n[[payload]]\nname = "k"\n[[payload.tracker]]\n'
        'id = "Q0ELSE-1"\n[[source]]\nname = "line"\nkind = "tcp"\nhost = "h"\nport = 1\n'
        '[source.decoder]\nkind = "aprs"\n'
    )
    file = tmp_path / "heard.txt"
    file.write_text("1778922000\tQ0HAB-11>APZKAN:!4706.00N/02018.00EO/A=000279\n")
    with pytest.raises(InputFileError, match=r"holds Q0HAB-11, and .* Q0ELSE-1 only; add"):
        list(play(file, config, as_lines=False))
    done = typed("replay", file, "--config", config)
    assert done.returncode != 0
    assert "Q0HAB-11" in done.stderr
