"""The record on paper says what is missing before anything else can be overlooked."""

from runbook.day.actions import Session
from runbook.day.kit_list import kit_list
from runbook.reports.document import html_page, markdown_page
from runbook.reports.record_page import record_page
from tests.day.days import SetClock, begun, short
from tests.played import FIRST, SECOND, half_way


def played() -> Session:
    clock = SetClock()
    session = begun(short(FIRST, SECOND), clock)
    half_way(session, clock)
    return session


def page(session: Session) -> str:
    return markdown_page(record_page(session.plan, session.entries))


def test_times_planned_and_real_stand_side_by_side() -> None:
    (line,) = [each for each in page(played()).split("\n") if each.startswith(f"| {FIRST} | shot")]
    cells = [cell.strip() for cell in line.strip("|").split("|")]
    assert cells[2] == "08:00"
    assert cells[4] == "12 min"  # as long as the made-up crew took
    assert cells[6:] == ["20 min", "25 min", "40", "120"]


def test_what_is_missing_or_not_counted_is_named() -> None:
    session = played()
    assert "MISSING" not in page(session)
    assert "items were not counted" in page(session)
    session.count_kit("bag", ("B1",), ("B2",))
    assert "MISSING: bag B2" in page(session).replace("\\", "")
    for line in kit_list(session.plan):
        session.count_kit(line.kind, line.ids)
    assert "The kit is complete." in page(session)


def test_a_note_cannot_break_out_of_the_page() -> None:
    session = played()
    session.note("near miss: <script>x</script>")
    written = html_page(record_page(session.plan, session.entries))
    assert "<script" not in written
    assert "near miss: &lt;script&gt;" in written


def test_only_a_day_shot_through_has_every_setup_shot() -> None:
    session = begun(short(FIRST, SECOND))
    for text in ("No setup was marked as shot.", f"{FIRST}: not begun", "the journal records no flashes"):
        assert text in page(session)
    assert "as planned." not in page(session)
    for setup_id, is_last in ((FIRST, False), (SECOND, True)):
        session.begin(setup_id)
        session.mark_shot()
        text = page(session)
        assert ("Every setup was shot as planned." in text) == ("Every setup was shot." in text) == is_last
        assert ("All setups shot were as planned." in text) == (f"{SECOND}: not begun" in text) == (not is_last)
