"""The method that the filter is measured against is the published one."""

import pytest

from service.nitrogen.filtering import Reading
from tests.bench.nitrogen_rival import theil_sen


def test_the_median_of_slopes_is_sens() -> None:
    """The worked example of Sen, Journal of the American Statistical Association 63, 1968."""
    x, y = (1, 2, 3, 4, 10, 12, 18), (9, 15, 19, 20, 45, 55, 78)
    slope, _ = theil_sen(
        [Reading(float(at), float(litres), 1.0) for at, litres in zip(x, y, strict=True)]
    )
    assert slope == pytest.approx(4)
