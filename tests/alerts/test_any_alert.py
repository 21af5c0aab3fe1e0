"""Whatever an alert holds can be said."""

from dataclasses import replace
from typing import get_args, get_type_hints

from hypothesis import given
from hypothesis import strategies as st

from groundstation.alerts.wording import LONGEST_TITLE, render, short_id
from groundstation.flight.alert_records import Facts, Silent, StationNotice
from groundstation.records import AlertKind, Fix, Phase, Place
from groundstation.units import Units
from tests.alerts.test_wording import FIX, HOME, LANDING, alert, key_of

any_float = st.floats()
any_landing = st.none() | st.builds(
    lambda lat, radius, eta: replace(
        LANDING, latitude_deg=lat, radius_50_m=radius, eta_utc=eta, eta_90_utc=(eta, eta)
    ),
    any_float,
    any_float,
    any_float,
)
any_place = st.builds(
    Place, latitude_deg=any_float, longitude_deg=any_float, altitude_m=st.none() | any_float
)
any_number = {float: any_float, float | None: st.none() | any_float, str: st.text(max_size=20)}
any_facts = st.one_of(
    *(
        st.builds(
            kind,
            **{
                name: any_landing if name == "landing" else any_number.get(hint, st.from_type(hint))
                for name, hint in get_type_hints(kind).items()
                if name not in ("kind", "by_now", "what")
            },
            **({"by_now": st.none() | any_place} if kind is Silent else {}),
            **({"what": st.text(min_size=1, max_size=60)} if kind is StationNotice else {}),
        )
        for kind in get_args(Facts)
    )
)


@given(
    facts=any_facts,
    phase=st.sampled_from(Phase),
    payload=st.text(min_size=1, max_size=80),
    time_utc=any_float,
    fix=st.none()
    | st.builds(
        lambda lat, lon, alt, t: replace(
            FIX, latitude_deg=lat, longitude_deg=lon, altitude_m=alt, time_utc=t
        ),
        any_float,
        any_float,
        st.none() | any_float,
        any_float,
    ),
    units=st.sampled_from(Units),
)
def test_any_alert_can_be_said_and_its_title_fits(
    facts: Facts,
    phase: Phase,
    payload: str,
    time_utc: float,
    fix: Fix | None,
    units: Units,
) -> None:
    key = key_of(facts.kind, payload)
    said = render(
        alert(facts, key=key, phase=phase, time_utc=time_utc, fix=fix), replace(HOME, units=units)
    )
    assert 0 < len(said.title) <= LONGEST_TITLE
    assert "\n" not in said.title
    for word in ("None", "nan", "inf"):
        assert word not in said.body.replace(payload, "")
    assert len(said.body) < 1_500
    if facts.kind is not AlertKind.STATION:
        assert said.body.endswith(f"#{short_id(key.text)}")
