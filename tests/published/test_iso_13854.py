"""Minimum gaps by part of the body.

Bibliography: ISO 13854 (EN 349), Table 1, as listed in the safety-distance pages of a public accident insurer. Seen.
"""

from __future__ import annotations

import pytest

from dryfit.trades.safety.formulas import MINIMUM_GAP


@pytest.mark.parametrize(
    ("part", "millimetres"),
    [("body", 500), ("head", 300), ("foot", 120), ("arm", 120), ("hand", 100), ("toes", 50), ("finger", 25)],
)
def test_table_1(part: str, millimetres: float) -> None:
    """Table 1 (seen), exact."""
    assert MINIMUM_GAP[part] == millimetres / 1000
