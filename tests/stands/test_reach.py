from __future__ import annotations

from runbook.stands.reach import reach_of
from tests.stands.rigs import a_stand


def test_how_hands_get_there() -> None:
    stand = a_stand()
    assert reach_of(stand, 1.9, 1.9).how == "from the floor"
    high = reach_of(stand, 2.4, 1.9)
    assert (high.how, round(high.over_m, 2)) == ("lower it", 0.5)
    tall = reach_of(a_stand(height_min_m=2.1), 2.4, 1.9)
    assert (tall.how, round(tall.over_m, 2)) == ("use a step", 0.2)
    assert "0.20 m over reach" in tall.why
    feet = reach_of(a_stand(height_min_m=2.1), 2.4, 1.9, "imperial")
    assert feet.why == "its lowest, 6 ft 11 in, is still 8 in over reach"
    assert reach_of(stand, 2.4, 1.9, "imperial").why.startswith("7 ft 10 in is 1 ft 8 in over")
    assert reach_of(stand, 1.9, 1.9, "imperial").why == "6 ft 3 in is in reach"
