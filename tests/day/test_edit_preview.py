"""What an edited plan leads to, in a line or two."""

from dataclasses import replace

from runbook.day.edit_preview import edit_preview
from runbook.day.light import reads_text, target_text
from runbook.light.prediction import predict
from runbook.stands.verdict import judge_setup
from tests.day.days import FIRST, begun, demo
from tests.day.plans import with_day


def test_a_light_shows_its_reading_and_how_its_stand_stands() -> None:
    plan = demo()
    setup = plan.setups[FIRST]
    light, stand = edit_preview(plan, "setup", FIRST, ("light", "A", "distance_m"))
    head = next(head for head in predict(plan, setup).heads if head.head == "A")
    assert light.startswith(f"A reads {reads_text(head.reads_stops)} (over f: ")
    assert target_text(head) and target_text(head) in light
    verdict = next(verdict for verdict in judge_setup(plan, setup) if verdict.head == "A")
    push = f"{verdict.push_n / 9.80665:.1f} kgf"  # a kilogram's weight: 9.80665 N, by definition
    assert stand.startswith(f"S1 ok: lean {verdict.lean_deg:.1f}°, push {push}, ")
    assert stand.endswith("bags 7 kg")
    bare = replace(setup, lights=tuple(replace(light, bags=(), height_m=2.7, distance_m=1.6) for light in setup.lights))
    _, stand = edit_preview(replace(plan, setups={FIRST: bare}), "setup", FIRST, ("light", "A", "bags"))
    assert stand.startswith("S1 NOT OK: lean") and "bags 0 kg of " in stand


def test_a_power_that_is_worked_out_is_shown() -> None:
    plan = demo()
    first, _ = edit_preview(plan, "setup", FIRST, ("light", "B", "power"))
    assert first.startswith(f"B at {plan.setups[FIRST].light['B'].power} (calculated) reads ")


def test_the_plan_is_carried_from_the_day_s_readings_like_the_set() -> None:
    session = begun()
    session.begin(FIRST)
    text = session.reading("A", 5.0)
    light = session.view.head_light("A")
    first, _ = edit_preview(session.plan, "setup", FIRST, ("light", "A", "distance_m"), session.state.anchors)
    assert f"reads {reads_text(light.reads_stops)} (over f: " in first
    assert f"dial {light.dial.power}" in first and text.endswith(f"dial {light.dial.power}")
    whole, *_ = edit_preview(session.plan, "setup", FIRST, (), session.state.anchors)
    assert f": {reads_text(session.view.prediction.whole_stops)} (" in whole


def test_a_whole_setup_shows_the_key_and_its_worst_stand_and_a_stand_where_it_stands_worst() -> None:
    light, stand = edit_preview(demo(), "setup", "captain-deck", ("title",))
    assert "key C" in light
    worst = min(judge_setup(demo(), demo().setups["captain-deck"]), key=lambda v: (v.ok, v.lean_deg))
    assert stand.startswith(f"{worst.stand} ")
    first, stand = edit_preview(demo(), "stand", "S1", ())
    assert first.split(":")[0] in demo().setups
    assert stand.startswith("S1 ")
    assert edit_preview(demo(), "lens", "85", ()) == ()
    imperial = with_day(demo(), units="imperial")
    assert edit_preview(imperial, "stand", "S1", ())[1].endswith(" lb")


def test_a_measured_row_shows_a_light_that_is_carried_from_it() -> None:
    plan = demo()
    first, _ = edit_preview(plan, "measured", "0", ())
    setup_id, text = first.split(": ", 1)
    assert plan.setups[setup_id].light["A"].modifier == plan.kit.measured[0].modifier == "octa-90"
    assert text.startswith("A reads ")
    unused = replace(plan.kit.measured[0], accessories=())
    plan = replace(plan, kit=replace(plan.kit, measured=(unused,)))
    assert edit_preview(plan, "measured", "0", ()) == ()
