"""Oxygen in a room, against every published worked example that was found, and CoolProp.

Baseline 21 % and 700 litres of gas per litre unless an example says otherwise.
"""

from math import exp, inf

import CoolProp.CoolProp as CP  # noqa: N817 (its own short name)
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.bank.rooms_rules import EXPANSION_RATIO
from service.nitrogen import oxygen
from service.nitrogen.oxygen import Air, Ventilation

M3_PER_CUBIC_FOOT = 0.3048**3
ATMOSPHERE_PA = 101_325


def room(
    volume_m3: float = 36,
    per_hour: float = 0.4,
    ventilation: Ventilation = "exhaust",
    *,
    ratio: float = 700,
    fresh: float = 21,
) -> Air:
    return Air(
        volume_m3=volume_m3,
        air_changes_per_hour=per_hour,
        ventilation=ventilation,
        expansion_ratio=ratio,
        oxygen_percent=fresh,
    )


def test_evaporation_of_five_vessels() -> None:
    """University of Oxford, Policy Statement S4/03, Appendix 1 (admin.ox.ac.uk/safety).

    It prints 0.044 m³/h, Ct 0.003 and 0.06 %: rounded.
    """
    given_off = oxygen.evaporation_m3_per_hour(5 * 0.15, expansion_ratio=700, ageing_factor=2)
    assert given_off == pytest.approx(0.04375, rel=1e-12)
    steady = oxygen.steady_percent(room(), given_off)
    assert steady is not None
    assert (21 - steady) / 21 == pytest.approx(0.0030382, rel=1e-5)
    assert 21 - steady == pytest.approx(0.06380, abs=5e-6)


@pytest.mark.parametrize(
    ("volume_m3", "percent"),
    [(180, 12.880), (300, 16.128)],
    ids=["height capped at 2 m, less 10 % for what stands there", "the bare room"],
)
def test_a_hundred_litres_in_a_laboratory(volume_m3: float, percent: float) -> None:
    """SHE document, Appendix 3, 2014 (issuer not visible): 12.9 % with the cap. E 696."""
    air = room(volume_m3, ratio=696)
    assert oxygen.percent_after_release(air, 100) == pytest.approx(percent, abs=5e-4)


def test_a_litre_in_a_cubic_metre() -> None:
    """Gas-release worksheet (issuer not visible): 6.7 % with 0.68 m³ per litre and 20.9 %."""
    air = room(1, ratio=680, fresh=20.9)
    assert oxygen.percent_after_release(air, 1) == pytest.approx(6.688, abs=5e-4)


@pytest.mark.parametrize(("fresh", "percent"), [(21, 19.30), (20.95, 19.26)])
def test_a_dewar_in_a_hall_leaves_less_than_19_5_percent(fresh: float, percent: float) -> None:
    """Fermilab News, January 2013, "Oxygen deficiency hazards": 160 L in 70 by 70 by 10 feet."""
    air = room(70 * 70 * 10 * M3_PER_CUBIC_FOOT, fresh=fresh)
    assert oxygen.percent_after_release(air, 160) == pytest.approx(percent, abs=6e-3)
    assert oxygen.percent_after_release(air, 160) < 19.5


def test_the_gas_of_177_litres() -> None:
    """At 0.808 kg/L and 1.15 g/L of gas, in 12 by 12 by 3.5 m: our own arithmetic."""
    gas = oxygen.gas_m3(177, expansion_ratio=0.808 / 1.15 * 1000)
    assert gas == pytest.approx(124.362, abs=5e-4)
    assert gas / (12 * 12 * 3.5) == pytest.approx(0.24675, abs=5e-6)


@pytest.mark.parametrize(("volume_m3", "below"), [(7.39, True), (7.41, False)])
def test_three_litres_in_a_car(volume_m3: float, below: bool) -> None:
    """University of Alaska Fairbanks, American Chemical Society DCHAS list, 29 August 2012.

    "Below 15 %": true of a cabin of less than 7.40 m³, with E 696 and 20.9 %.
    """
    air = room(volume_m3, ratio=696, fresh=20.9)
    assert (oxygen.percent_after_release(air, 3) < 15) is below


@pytest.mark.parametrize(
    ("litres", "percent"), [(1, 20.592), (10, 16.917), (11, 16.508), (50, 0.583)]
)
def test_releases_into_the_room_of_the_oxford_example(litres: float, percent: float) -> None:
    """Our own arithmetic: a 10 L vessel filled, spilt, spilt just after filling; five vessels."""
    assert oxygen.percent_after_release(room(), litres) == pytest.approx(percent, abs=5e-4)


def test_more_gas_than_the_room_holds_leaves_nothing() -> None:
    assert oxygen.percent_after_release(room(), 51.5) == 0


@pytest.mark.parametrize(
    ("release", "hours", "supply", "exhaust", "none"),
    [
        (1, 0.5, 20.737416, 20.735649, 20.710349),
        (1, 1, 20.525395, 20.519217, 20.424694),
        (1, 5, 19.796980, 19.739031, 18.276819),
        (0.04375, 24, 20.936395, 20.936202, 20.396346),
    ],
)
def test_transients(
    release: float, hours: float, supply: float, exhaust: float, none: float
) -> None:
    """Formulae of Fermilab ESH&Q Manual, chapter 4240, section 6.1.A; our own arithmetic."""
    ways: dict[Ventilation, float] = {"supply": supply, "exhaust": exhaust, "none": none}
    for ventilation, percent in ways.items():
        found = oxygen.percent_at(room(ventilation=ventilation), hours, release_m3_per_hour=release)
        assert found == pytest.approx(percent, abs=5e-7), ventilation


def test_a_large_release_against_a_large_fan() -> None:
    """16,000 cfm drawn out, 7,750 cfm given off, 9.8 ft by 15,360 ft² (our own arithmetic)."""
    volume, fan, release = 9.8 * 15_360, 16_000 * 60, 7_750 * 60
    air = room(volume * M3_PER_CUBIC_FOOT, fan / volume)
    found = oxygen.percent_at(
        air, 266_300 / 7_750 / 60, release_m3_per_hour=release * M3_PER_CUBIC_FOOT
    )
    assert found == pytest.approx(11.0919, abs=5e-5)


@pytest.mark.parametrize(
    ("start", "per_hour", "minutes"),
    [(15, 6, 13.863), (12.9, 6, 16.864), (10, 10, 11.955), (16.9, 0.4, 150.83)],
)
@pytest.mark.parametrize("ventilation", ["supply", "exhaust"])
def test_recovery_to_19_5_percent(
    ventilation: Ventilation, start: float, per_hour: float, minutes: float
) -> None:
    """Purge time −ln(C2/C1)/N with perfect mixing; our own arithmetic."""
    hours = oxygen.hours_to_recover(
        room(per_hour=per_hour, ventilation=ventilation), 19.5,
        start_percent=start, release_m3_per_hour=0,
    )  # fmt: skip
    assert hours is not None
    assert hours * 60 == pytest.approx(minutes, abs=6e-3)
    assert hours == pytest.approx(
        oxygen.purge_hours(21 - start, 21 - 19.5, changes_per_hour=per_hour)
    )


@pytest.mark.parametrize(("ventilation", "release"), [("exhaust", 1.02857), ("supply", 1.10769)])
def test_what_a_fan_carries_at_19_5_percent(ventilation: Ventilation, release: float) -> None:
    """n = N V (1 − Cf / 0.21) with air changes counted on the outflow; more when on the supply."""
    steady = oxygen.steady_percent(room(ventilation=ventilation), release)
    assert steady == pytest.approx(19.5, abs=1e-4)


def test_where_a_fan_draws_no_more_than_is_given_off_nothing_is_left() -> None:
    for release in (14.4, 20):
        assert oxygen.steady_percent(room(), release) == 0
        hours = oxygen.hours_to_fall(room(), 19.5, release_m3_per_hour=release)
        still = oxygen.hours_to_fall(room(ventilation="none"), 19.5, release_m3_per_hour=release)
        assert hours == still


@pytest.mark.parametrize(("ventilation", "per_hour"), [("none", 4), ("supply", 0), ("exhaust", 0)])
def test_without_ventilation_oxygen_only_falls(ventilation: Ventilation, per_hour: float) -> None:
    air = room(100, per_hour, ventilation)
    assert oxygen.steady_percent(air, 0.1) is None
    hours = oxygen.hours_to_fall(air, 19.5, release_m3_per_hour=0.1)
    assert hours is not None
    assert oxygen.percent_at(air, hours, release_m3_per_hour=0.1) == pytest.approx(19.5)
    assert oxygen.hours_to_fall(air, 19.5, release_m3_per_hour=0) is None
    assert oxygen.hours_to_recover(air, 19.5, start_percent=15, release_m3_per_hour=0.1) is None


def test_a_room_that_settles_low_never_recovers_and_says_when_it_is_low() -> None:
    low, high = room(ventilation="supply"), room(ventilation="supply", per_hour=4)
    assert oxygen.hours_to_recover(low, 19.5, start_percent=15, release_m3_per_hour=2) is None
    assert oxygen.hours_to_recover(low, 19.5, start_percent=20, release_m3_per_hour=2) == 0
    assert oxygen.hours_to_fall(high, 19.5, release_m3_per_hour=2) is None
    hours = oxygen.hours_to_fall(low, 19.5, release_m3_per_hour=2)
    assert hours is not None
    assert oxygen.percent_at(low, hours, release_m3_per_hour=2) == pytest.approx(19.5)


def test_purging() -> None:
    assert oxygen.purge_hours(8, 1, changes_per_hour=3) == pytest.approx(0.693147, abs=1e-6)
    assert oxygen.purge_hours(1, 1, changes_per_hour=3) == 0
    assert oxygen.purge_hours(1, 0.5, changes_per_hour=0) == inf


def test_a_curve_begins_at_the_start_and_ends_at_the_end() -> None:
    found = oxygen.curve(room(), 10, release_m3_per_hour=0, start_percent=15, points=5)
    assert [at for at, _ in found] == [0, 2.5, 5, 7.5, 10]
    assert found[0][1] == 15
    assert [percent for _, percent in found] == sorted(percent for _, percent in found)
    assert found[-1][1] == pytest.approx(21 - 6 * exp(-0.4 * 10))


rooms = st.builds(
    Air,
    volume_m3=st.floats(5, 5_000),
    air_changes_per_hour=st.floats(0.05, 30),
    ventilation=st.just("supply"),
    expansion_ratio=st.floats(640, 900),
    oxygen_percent=st.floats(20.5, 21),
)


@given(rooms, st.floats(0, 200))
def test_a_supply_fan_never_leaves_less_than_an_exhaust_fan(air: Air, release: float) -> None:
    drawn = room(
        air.volume_m3, air.air_changes_per_hour, ratio=air.expansion_ratio, fresh=air.oxygen_percent
    )
    supplied, exhausted = oxygen.steady_percent(air, release), oxygen.steady_percent(drawn, release)
    assert supplied is not None
    assert exhausted is not None
    assert supplied >= exhausted - 1e-9


@given(rooms, st.floats(0, 500))
def test_simple_displacement_leaves_no_more_than_the_exponential_one(
    air: Air, litres: float
) -> None:
    """The same gas let into a closed room slowly: c0 exp(−Vg / V)."""
    gas = oxygen.gas_m3(litres, expansion_ratio=air.expansion_ratio)
    closed = room(air.volume_m3, 0, "none", ratio=air.expansion_ratio, fresh=air.oxygen_percent)
    slowly = oxygen.percent_at(closed, 1, release_m3_per_hour=gas)
    assert oxygen.percent_after_release(air, litres) <= slowly + 1e-9


def expansion(
    gas_k: float, *, gas_pa: float = ATMOSPHERE_PA, boiled_pa: float = ATMOSPHERE_PA
) -> float:
    """Litres of gas per litre of boiling liquid by CoolProp (Span et al. 2000)."""
    liquid = CP.PropsSI("D", "P", boiled_pa, "Q", 0, "Nitrogen")
    return float(liquid / CP.PropsSI("D", "T", gas_k, "P", gas_pa, "Nitrogen"))


@pytest.mark.parametrize(
    ("celsius", "ratio"), [(0, 644.67), (15, 680.18), (20, 692.02), (21.1, 694.62), (25, 703.85)]
)
def test_the_expansion_ratio_by_the_equation_of_state(celsius: float, ratio: float) -> None:
    """CoolProp 8.0.0 within 0.2 % of what it gave before.

    University of Wisconsin-Madison, liquid nitrogen sheet: 24.54 cubic feet per litre at 70 °F.
    """
    assert expansion(celsius + 273.15) == pytest.approx(ratio, rel=2e-3)
    if celsius == 21.1:
        assert expansion(294.26) == pytest.approx(24.54 * M3_PER_CUBIC_FOOT * 1000, rel=2e-3)


def test_the_usual_ratio_is_that_of_a_cool_room() -> None:
    """696 of Lawrence Berkeley National Laboratory, PUB-3000, chapter 29."""
    assert expansion(273.15 + 20) < EXPANSION_RATIO < expansion(273.15 + 25)


def test_a_litre_of_808_kg_per_m3_at_21_degrees_and_101_kpa() -> None:
    """Bauer & Westfall, University Physics, chapter 19; answers on the web (722.9 L) are wrong."""
    gas = CP.PropsSI("D", "T", 294.15, "P", 101_000, "Nitrogen")
    assert oxygen.gas_m3(1, expansion_ratio=808 / gas) == pytest.approx(0.69828, rel=2e-4)
    ideal = 101_000 * 28.01348e-3 / (8.314462618 * 294.15)
    assert oxygen.gas_m3(1, expansion_ratio=808 / ideal) == pytest.approx(0.69844, rel=1e-4)


@pytest.mark.parametrize(
    ("kpa", "ratio"), [(101.325, 692.0), (95.461, 736.6), (84.556, 836.3), (79.495, 892.0)]
)
def test_in_the_mountains_a_litre_becomes_more(kpa: float, ratio: float) -> None:
    """International Standard Atmosphere at 0, 500, 1500 and 2000 m; gas at 20 °C."""
    found = expansion(293.15, gas_pa=kpa * 1000, boiled_pa=kpa * 1000)
    assert found == pytest.approx(ratio, rel=2e-3)
