"""``groundstation simulate``: write an invented flight down, for rehearsals and tests."""

import shlex
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from groundstation.errors import ConfigurationError
from groundstation.simulation.forms.form import Form
from groundstation.simulation.profiles import DESCRIPTIONS, Profile, settings_of
from groundstation.simulation.settings import HOME, SimulationSettings, TrackerModel
from groundstation.units import parse_quantity

if TYPE_CHECKING:
    from groundstation.simulation.simulate import SimulatedFlight


def _quantity(dimension: str) -> Callable[[str], float]:
    def convert(text: str) -> float:
        try:
            amount = parse_quantity(text, dimension)
        except ConfigurationError as error:
            raise click.BadParameter(str(error)) from error
        if amount <= 0.0:
            raise click.BadParameter(f"{text!r} is not more than nothing")
        return amount

    return convert


def _share(text: str) -> float:
    """``0.2`` or ``20 %``."""
    number, percent, rest = text.strip().partition("%")
    try:
        share = float(number) / (100.0 if percent else 1.0)
    except ValueError as error:
        raise click.BadParameter(f"{text!r} is not a share such as 0.2 or 20%") from error
    if rest or not 0.0 <= share < 1.0:
        raise click.BadParameter(f"{text!r} is not a share from 0 to less than 1")
    return share


def _moment(text: str) -> float:
    """A time in ISO 8601, UTC where it names no offset, as whole seconds since 1970."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise click.BadParameter(f"{text!r} is not a time such as 2026-05-16T08:30:00Z") from error
    aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    if not 1971 <= aware.year <= 9000:
        raise click.BadParameter(f"{text!r} is not in the years 1971 to 9000")
    return float(round(aware.timestamp()))


PROFILES = "\n".join(f"  {name.value:9} {text}" for name, text in DESCRIPTIONS.items())

EPILOG = f"""\b
Profiles:
{PROFILES}

\b
Example: a normal flight heard every 30 s, as raw packets to rehearse with:
  groundstation simulate --seed 7 --form packets --interval 30s --out flight.txt
\b
A satellite messenger that is silent above 18 km and lies face down, with a forecast of the day:
  groundstation simulate --profile messenger --ceiling 18km --face-down --winds winds.csv
"""


@click.command("simulate", epilog=EPILOG)
@click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True)
@click.option(
    "--profile",
    type=click.Choice([p.value for p in Profile]),
    default="normal",
    show_default=True,
    help="How the flight goes, and how well it is heard.",
)
@click.option(
    "--form",
    type=click.Choice([f.value for f in Form]),
    default="track",
    show_default=True,
    help="How it is written down.",
)
@click.option("--interval", metavar="TIME", type=_quantity("time"), help="Between two fixes: 60s.")
@click.option("--start", metavar="TIME", type=_moment, help="The launch: 2026-05-16T08:30:00Z.")
@click.option("--burst", metavar="HEIGHT", type=_quantity("length"), help="Burst altitude: 28km.")
@click.option("--ascent", metavar="SPEED", type=_quantity("speed"), help="Ascent rate: 5m/s.")
@click.option("--descent", metavar="SPEED", type=_quantity("speed"), help="At sea level: 6m/s.")
@click.option(
    "--ceiling", metavar="HEIGHT", type=_quantity("length"), help="No fix above it: 18km."
)
@click.option("--losses", metavar="SHARE", type=_share, help="Messages that are lost: 20%.")
@click.option("--heights/--no-heights", default=None, help="Whether it sends heights.")
@click.option("--face-down", is_flag=True, help="Once it is down nothing is heard of it.")
@click.option("--drive", is_flag=True, help="Switched on at home, before the drive to the site.")
@click.option("--title", default="", help="A line for the header of the file.")
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), help="Default: stdout.")
@click.option(
    "--truth",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write what really happened there, as JSON.",
)
@click.option(
    "--winds",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write a forecast of its winds there, as far off as such are.",
)
def simulate(
    seed: int,
    profile: str,
    form: str,
    interval: float | None,
    start: float | None,
    burst: float | None,
    ascent: float | None,
    descent: float | None,
    ceiling: float | None,
    losses: float | None,
    heights: bool | None,
    face_down: bool,
    drive: bool,
    title: str,
    out: Path | None,
    truth: Path | None,
    winds: Path | None,
) -> None:
    """Write an invented flight down as a recording, in any form that comes in.

    The same seed and options give the same bytes. The flight is the invented club's: payload
    kanalas-1, tracker Q0HAB-11, launched from 47.10 N 20.30 E.
    """
    from groundstation.simulation.forms.winds import forecast  # noqa: PLC0415
    from groundstation.simulation.forms.write import write, write_truth  # noqa: PLC0415
    from groundstation.simulation.simulate import simulate as fly  # noqa: PLC0415

    if Profile(profile) is Profile.SEASON:
        _season(seed, form, interval or 60.0, title, out, truth)
        return
    settings = settings_of(Profile(profile), seed)
    settings = replace(
        settings,
        start_utc=settings.start_utc if start is None else start,
        burst_altitude_m=burst,
        ascent_rate_ms=ascent,
        descent_rate_ms=descent,
        home=HOME if drive else None,
        tracker=_tracker(settings.tracker, interval, ceiling, losses, heights, face_down=face_down),
    )
    _check(settings)
    flight = fly(settings)
    made_by = f"Made by: {_command(click.get_current_context())}"
    data = write(flight, Form(form), (*filter(None, [title]), made_by))
    if out is None:
        click.echo(data, nl=False)
    else:
        _save(out, data)
    if truth is not None:
        _save(truth, write_truth(flight))
    if winds is not None:
        _save(winds, forecast(flight))
    click.echo(_summary(flight), err=True)


def _tracker(
    model: TrackerModel,
    interval_s: float | None,
    ceiling_m: float | None,
    losses: float | None,
    heights: bool | None,
    *,
    face_down: bool,
) -> TrackerModel:
    """The tracker of the profile, with what was asked for."""
    return replace(
        model,
        interval_s=model.interval_s if interval_s is None else interval_s,
        ceiling_m=model.ceiling_m if ceiling_m is None else ceiling_m,
        lost_share=model.lost_share if losses is None else losses,
        heights=model.heights if heights is None else heights,
        face_down=face_down,
    )


def _season(
    seed: int, form: str, interval_s: float, title: str, out: Path | None, truth: Path | None
) -> None:
    from groundstation.simulation.forms.season import season_track, season_truth  # noqa: PLC0415
    from groundstation.simulation.season import heard_of, season  # noqa: PLC0415

    if form != Form.TRACK.value:
        raise ConfigurationError("a season is written as a track; leave --form out")
    invented = heard_of(season(seed), seed=seed, interval_s=interval_s)
    made_by = f"Made by: {_command(click.get_current_context())}"
    data = season_track(invented, (*filter(None, [title]), made_by))
    if out is None:
        click.echo(data, nl=False)
    else:
        _save(out, data)
    if truth is not None:
        _save(truth, season_truth(invented))
    click.echo(
        f"Invented season: {len(invented.heard)} fixes, {len(invented.happened)} events.", err=True
    )


def _check(settings: SimulationSettings) -> None:
    burst = settings.burst_altitude_m
    if burst is not None and not 8_000.0 <= burst <= 39_000.0:
        raise ConfigurationError("--burst must lie between 8 km and 39 km")
    for name, rate in (
        ("--ascent", settings.ascent_rate_ms),
        ("--descent", settings.descent_rate_ms),
    ):
        if rate is not None and not 1.0 <= rate <= 40.0:
            raise ConfigurationError(f"{name} must lie between 1 m/s and 40 m/s")
    if not 1.0 <= settings.tracker.interval_s <= 3_600.0:
        raise ConfigurationError("--interval must lie between 1 s and 1 h")


def _command(context: click.Context) -> str:
    """The command line that makes the same bytes again, without where they go."""
    words = ["groundstation", "simulate"]
    for option in context.command.params:
        name = option.name or ""
        source = context.get_parameter_source(name)
        if source is not click.core.ParameterSource.COMMANDLINE or name in _PLACES:
            continue
        value = context.params[name]
        if isinstance(value, bool):
            words.append(f"--{'' if value else 'no-'}{name.replace('_', '-')}")
            continue
        if name == "start":
            value = _iso(value)
        elif name in _UNITS:
            value = f"{value:.12g}{_UNITS[name]}"
        words += [f"--{name}", str(value)]
    return shlex.join(words)


_UNITS = {"interval": "s", "burst": "m", "ascent": "m/s", "descent": "m/s", "ceiling": "m"}
_PLACES = {"out", "truth", "winds"}


def _iso(time_utc: float) -> str:
    return datetime.fromtimestamp(time_utc, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _save(path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        raise ConfigurationError(
            f"cannot write {path}: {error.strerror}; name another file"
        ) from error


def _summary(flight: "SimulatedFlight") -> str:
    truth = flight.truth
    lat, lon = truth.landing
    return (
        f"Invented flight: launch {_iso(truth.launch_utc)}, top {truth.top_m / 1000:.1f} km at"
        f" {_iso(truth.top_utc)}, touchdown {_iso(truth.touchdown_utc)} at {lat:.4f} {lon:.4f};"
        f" {len(flight.fixes)} fixes heard in {len(flight.heard)} packets."
    )
