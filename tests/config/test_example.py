"""The commented example: it works as it is, works with every comment taken away, and is whole."""

import dataclasses
import re
import shutil
import typing
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from groundstation import config
from groundstation.config import StationSettings
from groundstation.settings.builder import SettingsBuilder
from groundstation.settings.secret import Secret

EXAMPLE = Path(__file__).resolve().parents[2] / "config" / "station.toml"
SETTING = re.compile(r"^#(?=[a-z_\[\]}' ]*[\[={}'])(?! )", re.MULTILINE)


@pytest.fixture
def env(tmp_path: Path) -> dict[str, str]:
    """Every secret that the example asks for, made up."""
    text = EXAMPLE.read_text(encoding="utf-8")
    for name in re.findall(r'credential = "([^"]+)"', text):
        (tmp_path / name).write_text("json://127.0.0.1:9/")
    for name in re.findall(r'file = "([^"]+)" }', text):
        (tmp_path / name).write_text("made up")
    named = dict.fromkeys(re.findall(r'env = "([^"]+)"', text), "made up")
    named |= {"HEARTBEAT_URL": "https://switch.example.net/1"}
    return {**named, "CREDENTIALS_DIRECTORY": str(tmp_path)}


def fields(hint: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """(dotted place, name) of every setting below ``hint``."""
    if dataclasses.is_dataclass(hint):
        hints = typing.get_type_hints(hint)
        for one in dataclasses.fields(hint):
            yield f"{path}.{one.name}", one.name
            yield from fields(hints[one.name], f"{path}.{one.name}")
    elif hint is not Secret:
        for part in typing.get_args(hint):
            yield from fields(part, path)


def test_it_loads_as_it_is(env: dict[str, str]) -> None:
    settings = config.load(EXAMPLE, env)
    assert [one.name for one in settings.payload] == ["kanalas-1"]
    assert settings.source
    assert settings.target


def test_it_loads_with_every_setting_in_use(tmp_path: Path, env: dict[str, str]) -> None:
    text = SETTING.sub("", EXAMPLE.read_text(encoding="utf-8"))
    whole = tmp_path / "whole.toml"
    whole.write_text(text, encoding="utf-8")
    shutil.copy(EXAMPLE.with_name("flight.toml"), tmp_path)
    settings = config.load(whole, env)
    assert {one.kind for one in settings.source} == {
        "serial",
        "tcp",
        "mqtt",
        "http-push",
        "http-poll",
        "gpsd",
        "mailbox",
        "recording",
        "udp",
        "tcp-listen",
        "file",
        "command",
    }
    kinds = {one.decoder.kind for one in settings.source if one.decoder is not None}
    assert kinds == {"aprs", "delimited", "json", "nmea", "feed", "pattern", "pairs", "binary"}
    assert {one.kind for one in settings.target} == {"apprise", "terminal"}


def test_what_is_commented_out_is_the_usual_value(env: dict[str, str]) -> None:
    """Of the plan and the alerts, whose values the example says it shows."""
    text = EXAMPLE.read_text(encoding="utf-8")
    begin, end = text.index("[payload.plan]"), text.index("[[source]]")
    [payload] = config.load(EXAMPLE, env).payload
    whole = text[:begin] + SETTING.sub("", text[begin:end]) + text[end:]
    builder = SettingsBuilder(whole, name="x", folder=EXAMPLE.parent, env=env)
    [other] = builder.build(StationSettings).payload
    assert other.alerts == payload.alerts
    assert dataclasses.replace(other.plan, descent_rate_ms=None, landing=None) == payload.plan


def test_every_setting_is_mentioned() -> None:
    text = EXAMPLE.read_text(encoding="utf-8")
    mentioned = set(re.findall(r"^#?\[*(?:\w+\.)*(\w+)\]*\s*(?:=|$)", text, re.MULTILINE))
    mentioned |= set(re.findall(r"[{,] (\w+) = ", text))
    places = list(fields(StationSettings))
    assert len(places) > 60
    assert [place for place, name in places if name not in mentioned] == []
