"""The builder, on settings made up for the test."""

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Literal

import pytest

from groundstation.errors import ConfigurationError
from groundstation.settings.builder import RESOURCES, SettingsBuilder
from groundstation.settings.secret import Secret


class Colour(StrEnum):
    RED = "red"
    GREEN = "green"


@dataclass(frozen=True, slots=True, kw_only=True)
class Radio:
    kind: Literal["radio"] = "radio"
    baud: int = 9600


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    kind: Literal["wire"] = "wire"
    host: str
    password: Secret | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    latitude_deg: float
    longitude_deg: float = 0.0

    def __post_init__(self) -> None:
        if self.latitude_deg == 1.0:
            raise ConfigurationError("nobody may be there")


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole:
    title: str = ""
    loud: bool = False
    count: int = 1
    keep_s: int = 0
    height_m: float = 0.0
    pause_s: float = 0.0
    rate_ms: float = 0.0
    pressure_pa: float = 0.0
    warm_k: float = 0.0
    share: float = 0.5
    ground_m: float | None = None
    colour: Colour = Colour.RED
    file: Path = Path("unset")
    names: tuple[str, ...] = ()
    pair: tuple[float, float] = (0.0, 0.0)
    units: dict[str, str] = field(default_factory=dict)
    place: Place | None = None
    link: tuple[Radio | Wire, ...] = ()


Build = Callable[..., Whole]


@pytest.fixture
def build(tmp_path: Path) -> Build:
    def made(text: str, **env: str) -> Whole:
        return SettingsBuilder(text, name="a.toml", folder=tmp_path, env=env).build(Whole)

    return made


def refusal(build: Build, text: str, **env: str) -> str:
    with pytest.raises(ConfigurationError) as caught:
        build(text, **env)
    return str(caught.value)


def test_every_kind_of_field(build: Build, tmp_path: Path) -> None:
    (tmp_path / "word").write_text("open sesame\n")
    built = build(
        """
        title = "a"
        loud = true
        count = 3
        keep_s = "2 d"
        height_m = "100 ft"
        pause_s = "2 min"
        rate_ms = "36 km/h"
        pressure_pa = "1013.25 hPa"
        warm_k = "0 degC"
        share = 1
        ground_m = 85
        colour = "green"
        file = "flights/one.txt"
        names = ["x", "y"]
        pair = [1, 2.5]
        units = { alt_m = "ft" }
        [place]
        latitude_deg = 47.1
        [[link]]
        kind = "radio"
        baud = 1200
        [[link]]
        kind = "wire"
        host = "here"
        password = { file = "word" }
        """
    )
    assert built == Whole(
        title="a",
        loud=True,
        count=3,
        keep_s=172_800,
        height_m=pytest.approx(30.48),  # type: ignore[arg-type]
        pause_s=120.0,
        rate_ms=pytest.approx(10.0),  # type: ignore[arg-type]
        pressure_pa=pytest.approx(101_325.0),  # type: ignore[arg-type]
        warm_k=pytest.approx(273.15),  # type: ignore[arg-type]
        share=1.0,
        ground_m=85.0,
        colour=Colour.GREEN,
        file=tmp_path / "flights" / "one.txt",
        names=("x", "y"),
        pair=(1.0, 2.5),
        units={"alt_m": "ft"},
        place=Place(latitude_deg=47.1),
        link=(Radio(baud=1200), Wire(host="here", password=Secret("open sesame"))),
    )
    assert isinstance(built.share, float)
    assert isinstance(built.colour, Colour)


def test_nothing_given_leaves_the_defaults(build: Build) -> None:
    assert build("") == Whole()


def test_resources_and_absolute_paths(build: Build) -> None:
    assert build('file = "resource:default.toml"').file == RESOURCES / "default.toml"
    assert build('file = "/etc/hosts"').file == Path("/etc/hosts")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("titel = 'a'", "a.toml, line 1: titel: unknown key; did you mean 'title'?"),
        ("title = 3", "a.toml, line 1: title: expected a text, found 3"),
        ("\nloud = 1", "a.toml, line 2: loud: expected true or false, found 1"),
        ("count = true", "a.toml, line 1: count: expected a whole number, found true"),
        ("count = 1.0", "a.toml, line 1: count: expected a whole number, found 1.0"),
        ("keep_s = '1.5 s'", "keep_s: expected a whole number, found 1.5"),
        ("keep_s = '2 m'", "keep_s: '2 m' has not a unit of time"),
        ("share = true", "a.toml, line 1: share: expected a number, found true"),
        ("share = '1 m'", "a.toml, line 1: share: expected a number, found the text '1 m'"),
        ("height_m = '3 s'", "a.toml, line 1: height_m: '3 s' has not a unit of length; use m, "),
        ("height_m = '3'", "has not a unit of length"),
        ("height_m = nan", "height_m: expected a finite number, found nan"),
        ("height_m = true", "expected a number or a length with its unit, found true"),
        ("colour = 'gren'", "'red', 'green', found the text 'gren'; did you mean 'green'?"),
        ("names = 'x'", "names: expected a list, found the text 'x'"),
        ("names = ['x', 2]", "a.toml, line 1: names[2]: expected a text, found 2"),
        ("pair = [1]", "pair: expected a list of 2, found 1"),
        ("units = { alt_m = 3 }", "a.toml, line 1: units.alt_m: expected a text, found 3"),
        ("file = ''", "file: expected a path"),
        ("place = 3", "place: expected a table of settings, found 3"),
        ("[place]\nlongitude_deg = 1", "a.toml, line 1: place.latitude_deg: is missing"),
        ("[place]\nlatitude_deg = 91", "line 2: place.latitude_deg: expected degrees from -90 to"),
        ("[place]\nlatitude_deg=1\nlongitude_deg=181", "expected degrees from -180 to 180"),
        ("[place]\nlatitude_deg = 1", "a.toml, line 1: place: nobody may be there"),
        ("[[link]]\nbaud = 1", "a.toml, line 1: link[1].kind: is missing; one of 'radio', 'wire'"),
        ("[[link]]\nkind = 'wirr'", "line 2: link[1].kind: expected one of 'radio', 'wire', found"),
        (
            "[[link]]\nkind='radio'\n[[link]]\nkind = 'radio'\nbaud = 'x'",
            "a.toml, line 5: link[2].baud: expected a whole number, found the text 'x'",
        ),
        ("[[link]]\nkind='radio'\nbuad = 1", "line 3: link[1].buad: unknown key; did you mean"),
        ("zzz = 1", "line 1: zzz: unknown key; known here are title, "),
        ("title = ?", "a.toml is not valid TOML: Invalid value (at line 1, column 9)"),
    ],
)
def test_errors_name_line_key_and_what_to_do(build: Build, text: str, expected: str) -> None:
    assert expected in refusal(build, text)


def test_all_errors_in_the_order_of_the_file(build: Build) -> None:
    lines = refusal(build, "count = 'x'\ntitel = ''\nloud = 3\n").splitlines()
    assert [line.split(":")[1].strip() for line in lines] == ["count", "titel", "loud"]


WIRE = "[[link]]\nkind = 'wire'\nhost = 'h'\npassword = "


def test_secrets_come_from_elsewhere(build: Build, tmp_path: Path) -> None:
    (tmp_path / "broker").write_text("hush\n")
    folder = str(tmp_path)
    for text, env in (
        ("{ env = 'WORD' }", {"WORD": "hush"}),
        ("{ credential = 'broker' }", {"CREDENTIALS_DIRECTORY": folder}),
        ("{ credential = 'broker' }", {}),
        ("{ file = 'broker' }", {}),
    ):
        [link] = build(WIRE + text, **env).link
        assert isinstance(link, Wire)
        assert link.password == Secret("hush")
        assert "hush" not in repr(link)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("{ env = 'WORD' }", "line 4: link[1].password: the environment variable WORD is not set"),
        ("{ credential = 'b' }", "the credential 'b' cannot be read"),
        ("{ file = 'none' }", "the file 'none' cannot be read: No such file"),
        ("{ vault = 'x' }", "'vault' is no origin of a secret; write { env = "),
        ("{ env = 'A', file = 'b' }", "a secret has one origin"),
        ("'hush'", "a secret may not stand in the configuration; write { env = "),
        ("['hush']", "a secret may not stand in the configuration"),
    ],
)
def test_a_secret_that_is_not_to_be_had(build: Build, text: str, expected: str) -> None:
    said = refusal(build, WIRE + text)
    assert expected in said
    assert "hush" not in said


def test_a_credential_is_a_bare_name(build: Build, tmp_path: Path) -> None:
    said = refusal(
        build, WIRE + "{ credential = '../x' }", CREDENTIALS_DIRECTORY=os.fspath(tmp_path)
    )
    assert "is not a bare name" in said
