"""The bundled flight of which only a satellite messenger tells, through the same fold as life."""

import pytest

from groundstation.config import flight_settings, load, wording_settings
from groundstation.flight.alert_records import Message
from groundstation.physics.geodesy import distance_m
from groundstation.recordings.read_any import read_recording
from groundstation.records import AlertKind, Landing, Phase, PhaseChange
from groundstation.simulation.profiles import Profile, settings_of
from groundstation.simulation.simulate import simulate
from groundstation.sources.recording_source import RecordingSettings
from groundstation.station.replay import replay

LAUNCH, TOP, TOUCHDOWN = 1_778_920_200.0, 1_778_926_229.0, 1_778_928_802.0
"""What the simulator says of it (seed 8): 08:30, 10:10:29 and 10:53:22 UTC."""


@pytest.mark.slow
def test_it_is_told_as_it_flew() -> None:
    settings = load(None, {}, "messenger")
    source = settings.source[0]
    assert isinstance(source, RecordingSettings)
    flights = flight_settings(settings, LAUNCH)
    said = list(replay(read_recording(source.path), flights, wording_settings(settings, flights)))
    truth = simulate(settings_of(Profile.MESSENGER, 8)).truth
    assert truth.launch_utc == LAUNCH
    assert abs(truth.top_utc - TOP) < 1.0

    changes = [one for _, one in said if isinstance(one, PhaseChange)]
    assert [one.phase for one in changes] == [Phase.ASCENT, Phase.DESCENT, Phase.LANDED]
    alerts = [one.alert for _, one in said if isinstance(one, Message)]
    kinds = [one.kind for one in alerts]
    assert kinds[0] is AlertKind.LAUNCHED, "the drive before it is none"
    assert LAUNCH < alerts[0].time_utc < LAUNCH + 900.0
    assert kinds.count(AlertKind.LAUNCHED) == kinds.count(AlertKind.LANDED) == 1
    assert AlertKind.SILENT not in kinds, "it was above the ceiling of its receiver"
    text = "\n".join(f"{one.title}\n{one.body}" for _, one in said if isinstance(one, Message))
    assert "has probably burst" in text
    assert "probably down" in text
    assert "Base will lose it" not in text, "it is heard by satellites"
    assert "0 fixes" not in text

    landings = [one for _, one in said if isinstance(one, Landing)]
    lat, lon = truth.landing
    for landing in landings:
        progress, now = landing.progress, landing.time_utc
        assert progress is not None
        chance = progress.chance
        total = chance.ascent + chance.floating + chance.descent + chance.landed
        assert abs(total - 1.0) < 1e-6
        assert progress.height_m is not None
        assert progress.height_90_m is not None
        low, high = progress.height_90_m
        assert low <= progress.height_m <= high
        if now < TOP - 600.0:
            assert chance.ascent > 0.8
        if TOP + 600.0 < now < TOUCHDOWN - 300.0:
            assert chance.descent > 0.5
    last = landings[-1]
    assert last.progress is not None
    assert last.progress.chance.landed == 1.0
    assert last.phase is Phase.LANDED
    assert distance_m(last.latitude_deg, last.longitude_deg, lat, lon) < 60.0
