"""Lift, size and rise of a filled balloon, against worked cases.

The cases were worked out beside the project from the lift balance, the drag balance and the US
Standard Atmosphere 1976, whose gas constant is 2e-5 above that of CODATA; hence the tolerances.
"""

import pytest
from ambiance import Atmosphere

from groundstation.errors import OutOfModelRangeError
from groundstation.physics.buoyancy import (
    Fill,
    Gas,
    ascent_rate_ms,
    diameter_m,
    free_lift_for_kg,
    volume_m3,
)

SEA_PA, SEA_K = 101_325.0, 288.15
HELIUM, HYDROGEN = Fill(), Fill(gas=Gas.HYDROGEN)


@pytest.mark.parametrize(
    ("fill", "lift", "grams_a_cubic_foot"), [(HELIUM, 1.05572, 29.9), (HYDROGEN, 1.13974, 32.3)]
)
def test_lift_of_a_cubic_metre(fill: Fill, lift: float, grams_a_cubic_foot: float) -> None:
    found = fill.lift_kgm3(SEA_PA, SEA_K)
    assert found == pytest.approx(lift, rel=5e-5)
    assert found * 0.3048**3 * 1_000.0 == pytest.approx(grams_a_cubic_foot, abs=0.05)
    # Air itself lifts nothing: what is not gas is lost.
    assert Fill(gas=fill.gas, purity=0.9).lift_kgm3(SEA_PA, SEA_K) == pytest.approx(
        0.9 * lift, rel=1e-4
    )


# gas, balloon, payload, free lift (kg); volume, diameter, rise at Cd 0.25, 0.30, 0.35, 0.47;
# burst diameter, volume there.
CASES = {
    "A": (HELIUM, 1.0, 1.5, 1.0, 3.3153, 1.8500, (4.881, 4.456, 4.125, 3.560), 7.86, 254.25),
    "B": (HYDROGEN, 1.0, 1.5, 1.0, 3.0709, 1.8034, (5.007, 4.571, 4.232, 3.652), 7.86, 254.25),
    "C": (HELIUM, 1.2, 2.0, 1.2, 4.1678, 1.9966, (4.954, 4.523, 4.187, 3.613), 8.63, 336.54),
    "D": (HELIUM, 0.6, 1.0, 0.8, 2.2733, 1.6314, (4.951, 4.520, 4.184, 3.611), 6.02, 114.23),
    "E": (HELIUM, 3.0, 3.0, 2.0, 7.5778, 2.4370, (5.240, 4.784, 4.429, 3.822), 13.0, 1150.35),
}


@pytest.mark.parametrize("name", CASES)
def test_worked_cases(name: str) -> None:
    fill, balloon, payload, free, volume, diameter, rises, burst, burst_volume = CASES[name]
    found = (balloon + payload + free) / fill.lift_kgm3(SEA_PA, SEA_K)
    assert found == pytest.approx(volume, rel=5e-5)
    assert diameter_m(found) == pytest.approx(diameter, abs=1e-4)
    for drag, rise in zip((0.25, 0.30, 0.35, 0.47), rises, strict=True):
        assert ascent_rate_ms(free, found, drag) == pytest.approx(rise, abs=1e-3)
    assert volume_m3(burst) == pytest.approx(burst_volume, abs=0.01)


@pytest.mark.parametrize(
    ("balloon", "payload", "drag", "free"),
    [(1.0, 1.5, 0.30, 1.3393), (1.2, 2.0, 0.30, 1.5417), (0.6, 1.0, 0.30, 1.0446),
     (1.0, 1.5, 0.25, 1.0616)],
)  # fmt: skip
def test_the_free_lift_for_five_metres_a_second(
    balloon: float, payload: float, drag: float, free: float
) -> None:
    lift = HELIUM.lift_kgm3(SEA_PA, SEA_K)
    found = free_lift_for_kg(5.0, balloon + payload, lift, drag)
    assert found == pytest.approx(free, abs=1e-4)
    volume = (balloon + payload + found) / lift
    assert ascent_rate_ms(found, volume, drag) == pytest.approx(5.0, rel=1e-9)


def test_the_gross_lift_is_the_same_at_every_height() -> None:
    """A volume that grows as the air thins (ISA by ambiance) lifts the same."""
    for height in (5_000.0, 15_000.0, 30_000.0):
        air = Atmosphere(height)
        lift = HELIUM.lift_kgm3(float(air.pressure[0]), float(air.temperature[0]))
        grown = 1.2250 / float(air.density[0])
        assert lift * grown == pytest.approx(1.05572, rel=1e-4)


def test_what_cannot_be() -> None:
    with pytest.raises(OutOfModelRangeError, match=r"share of the gas, such as 0\.99"):
        Fill(purity=99.0)
    with pytest.raises(OutOfModelRangeError, match="rise at 50"):
        free_lift_for_kg(50.0, 2.5, 1.05, 0.3)
    assert ascent_rate_ms(-0.1, 3.0, 0.3) == 0.0
