"""A tank's table both ways, weights, and the figures of liquid nitrogen."""

from decimal import Decimal

import pytest
from CoolProp import CoolProp
from hypothesis import given
from hypothesis import strategies as st

from service.bank.tanks_rules import CalibrationPoint
from service.nitrogen.calibrated import (
    KG_PER_LITRE,
    WATTS_PER_LITRE_A_DAY,
    Dipstick,
    litres_weighed,
)


def table(*points: tuple[str, str]) -> Dipstick:
    return Dipstick.of(
        [CalibrationPoint(level_cm=Decimal(cm), litres=Decimal(litres)) for cm, litres in points]
    )


NORTH = table(("0", "0"), ("25", "16.5"), ("50", "35"))


@pytest.mark.parametrize(
    ("cm", "litres"), [("0", "0"), ("10", "6.6"), ("25", "16.5"), ("30", "20.2"), ("50", "35")]
)
def test_litres_between_two_lines_are_interpolated_and_read_back(cm: str, litres: str) -> None:
    assert NORTH.litres_at(Decimal(cm)) == Decimal(litres)
    assert NORTH.level_at(Decimal(litres)) == Decimal(cm)


def test_each_part_of_a_tank_has_its_own_litres_per_centimetre() -> None:
    slopes = [NORTH.litres_per_cm(Decimal(cm)) for cm in (0, 10, 25, 49, 50, 60)]
    assert slopes == [Decimal("0.66")] * 2 + [Decimal("0.74")] * 4


def test_a_table_that_starts_higher_goes_on_to_an_empty_tank() -> None:
    starts_at_ten = table(("10", "6"), ("50", "35"))
    assert starts_at_ten.litres_at(Decimal(5)) == 3
    assert starts_at_ten.level_at(Decimal(3)) == 5


def test_a_table_whose_first_line_is_an_empty_tank_reads_nothing_below_it() -> None:
    raised_floor = table(("2", "0"), ("50", "35"))
    assert raised_floor.litres_at(Decimal(1)) == 0
    assert raised_floor.litres_per_cm(Decimal(1)) > 0


rising = st.lists(st.tuples(st.integers(1, 500), st.integers(1, 500)), min_size=2, max_size=12).map(
    lambda steps: table(
        *(
            (str(Decimal(sum(s[0] for s in steps[:n])) / 10), str(sum(s[1] for s in steps[:n])))
            for n in range(len(steps) + 1)
        )
    )
)


@given(dipstick=rising, share=st.fractions(0, 1))
def test_what_a_level_holds_is_read_back_as_that_level(dipstick: Dipstick, share: object) -> None:
    level = dipstick.top_cm * Decimal(float(share))  # type: ignore[arg-type]
    back = dipstick.level_at(dipstick.litres_at(level))
    assert abs(back - level) < Decimal("1e-20")


def test_a_weight_is_the_nitrogen_beside_the_empty_tank() -> None:
    litres = litres_weighed(Decimal("27.5608"), empty_weight_kg=Decimal("19.5"))
    assert litres == 10
    assert litres_weighed(Decimal(19), empty_weight_kg=Decimal("19.5")) < 0


def boiling(quantity: str, quality: int) -> float:
    """A property of nitrogen that boils at 101 325 Pa."""
    return CoolProp.PropsSI(quantity, "P", 101_325, "Q", quality, "Nitrogen")  # type: ignore[no-any-return]


def test_density_and_latent_heat_are_those_of_the_equation_of_state() -> None:
    """Span et al., J. Phys. Chem. Ref. Data 29:1361 (2000), by CoolProp 8 (Bell et al., 2014).

    Tolerances: density 0.1 %, latent heat 0.3 %, watts 0.5 %.
    """
    density = boiling("D", 0)
    latent = boiling("H", 1) - boiling("H", 0)
    assert density == pytest.approx(806.085, rel=1e-3)
    assert latent == pytest.approx(199_176, rel=3e-3)
    assert float(KG_PER_LITRE) == pytest.approx(density / 1000, rel=1e-3)
    assert latent * density / 1e6 == pytest.approx(160.553, rel=3e-3)  # kJ per litre
    assert latent * density / 1000 / 86_400 == pytest.approx(WATTS_PER_LITRE_A_DAY, rel=5e-3)


def test_watts_agree_with_figures_published_elsewhere() -> None:
    """Properties of LN2 and LHe, University of Wisconsin-Madison: 806.5 kg/m3, 198.8 kJ/kg."""
    assert pytest.approx(WATTS_PER_LITRE_A_DAY, rel=5e-3) == 806.5 * 198.8 / 86_400
