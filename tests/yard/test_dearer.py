"""What a way costs beside the one taken: never 'as much' or '1.00 times' by rounding alone."""

import pytest

from siteplan.yard.groups import _dearer


@pytest.mark.parametrize(
    ("cost", "said"),
    [
        (100.0, "costs as much as it"),
        (100.3, "costs 0.3 % more than it"),
        (104.0, "costs 4.0 % more than it"),
        (250.0, "costs 2.50 times as much as it"),
    ],
)
def test_a_small_difference_is_told(cost, said):
    assert _dearer(cost, 100.0, "it") == said
