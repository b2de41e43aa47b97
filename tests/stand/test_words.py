from __future__ import annotations

from runbook.stand.judge import judge
from runbook.stand.rig import Rig
from runbook.stand.words import counted, hang_words, push_words, verdict_words
from tests.stand.rigs import PLACE, a_box, a_head, a_stand, bags

RIG = Rig(a_stand(), 2.0, a_head(), a_box())


def test_a_push_in_words() -> None:
    assert push_words(RIG, PLACE, bags(7.0)) == (
        "a push of 0.7 kgf at the modifier tips it; one 7 kg bag makes it 1.6"
    )
    assert push_words(RIG._replace(modifier=None), PLACE) == "a push of 0.7 kgf at the head tips it"
    falls = RIG._replace(modifier=a_box(6.0, 1.6))
    assert push_words(falls, PLACE) == "it falls by itself"
    assert push_words(falls, PLACE, bags(1.0)).endswith(
        "one 1 kg bag at the column cannot hold it there"
    )


def test_bags_are_counted() -> None:
    assert counted(bags(7.0, 7.0)) == "two 7 kg bags"
    assert counted(bags(7.0, 9.0, 3.0)) == "three bags, 19 kg"
    assert counted(bags(*(5.0,) * 8)) == "8 5 kg bags"


def test_where_to_hang_it() -> None:
    assert "at the column" in hang_words(RIG)
    far = RIG._replace(bags_at="far legs")
    assert "on the leg away from the load" in hang_words(far)
    assert "shared by the two legs" in hang_words(far._replace(leg_under_load=True))


def test_a_line_on_a_stand() -> None:
    line = verdict_words(RIG, judge(RIG, PLACE), PLACE)
    assert line == (
        "S1: stands a lean of 8.9 deg, 10 wanted; a push of 0.7 kgf at the modifier tips it; "
        "needs 0.8 kg at the column"
    )
    steep = PLACE._replace(tilt_limit_deg=80.0)
    assert "no bag at the column is enough" in verdict_words(RIG, judge(RIG, steep), steep)
    weak = RIG._replace(stand=a_stand(load_max_kg=2.0))
    assert "carries 3.3 kg of 2" in verdict_words(weak, judge(weak, PLACE), PLACE)
    falls = RIG._replace(modifier=a_box(6.0, 1.6))
    assert "S1: falls by itself" in verdict_words(falls, judge(falls, PLACE), PLACE)
