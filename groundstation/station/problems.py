"""What is wrong with the station, each with what to do, for the page and for the phone."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from groundstation.language.catalogue import _
from groundstation.language.numbers import number
from groundstation.records import HeightReport, Report
from groundstation.station.untimed import UntimedSource
from groundstation.web.snapshot import SourceSnapshot, SourceState, TargetSnapshot


@dataclass(frozen=True, slots=True)
class Problem:
    """Something that needs somebody. ``name`` stays the same while ``text`` may count on."""

    name: str
    text: str
    urgent: bool = False


def of_sources(sources: Iterable[SourceSnapshot]) -> Iterator[Problem]:
    for source in sources:
        if source.state is SourceState.WAITING:
            yield Problem(
                _("source {name}", name=source.name),
                _(
                    "Source {name} is not connected: {reason} It is tried again by itself.",
                    name=source.name,
                    reason=source.last_error,
                ),
            )


def of_floods(left_out: Mapping[str, int]) -> Iterator[Problem]:
    for name, count in sorted(left_out.items()):
        yield Problem(
            _("noise from {name}", name=name),
            _(
                "Source {name} sends what can't be read faster than it is worth keeping: {count}"
                " frames were left out. Look at the receiver.",
                name=name,
                count=number(count),
            ),
        )


def of_untimed(untimed: Mapping[str, UntimedSource]) -> Iterator[Problem]:
    for name, sender in sorted(untimed.items()):
        newest = sender.newest
        place = _("a place not told")
        if isinstance(newest, Report):
            place = f"{newest.latitude_deg:.5f}, {newest.longitude_deg:.5f}"
        yield Problem(
            _("times of {name}", name=name),
            _(
                "The time that source {name} sends can't be read: {time}. So its {count} newest"
                " fixes are kept as of unknown time, and the flight goes on without them; the last"
                " is {tracker} at {place}. Set time_format of its decoder to what it sends.",
                name=name,
                time=repr(newest.time_unread),
                count=number(sender.count),
                tracker=newest.tracker,
                place=place,
            ),
        )


def of_heights(high: Mapping[str, Report | HeightReport]) -> Iterator[Problem]:
    for name, newest in sorted(high.items()):
        yield Problem(
            _("heights of {name}", name=name),
            _(
                "Source {name} sends heights where no balloon is: {tracker} at {height} m. They are"
                " not used. If they are feet, set alt_m to ft in units of its decoder.",
                name=name,
                tracker=newest.tracker,
                height=number(newest.altitude_m or 0.0),
            ),
        )


def of_targets(targets: Iterable[TargetSnapshot]) -> Iterator[Problem]:
    for target in targets:
        if target.waiting and target.last_error:
            yield Problem(
                _("alerts to {name}", name=target.name),
                _(
                    "Alerts to {name} wait: {reason} They are tried again by themselves.",
                    name=target.name,
                    reason=target.last_error,
                ),
            )
