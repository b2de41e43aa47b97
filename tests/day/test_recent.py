"""The last few answers, kept with what was asked."""

from __future__ import annotations

from runbook.day.recent import Recent


def test_a_question_asked_again_is_not_worked_out_again() -> None:
    worked: list[str] = []
    recent: Recent[list[int], int] = Recent()

    def work_out(asked: list[int]) -> int:
        worked.append(str(asked))
        return sum(asked)

    assert [recent.answer(asked, lambda a=asked: work_out(a)) for asked in ([1, 2], [3], [1, 2])] == [3, 3, 3]
    assert worked == ["[1, 2]", "[3]"]


def test_old_questions_are_forgotten_and_all_of_them_when_told_to() -> None:
    recent: Recent[int, int] = Recent()
    for asked in range(5):
        recent.answer(asked, lambda a=asked: a)
    assert recent.answer(4, lambda: -1) == 4
    assert recent.answer(0, lambda: -1) == -1
    recent.forget()
    assert recent.answer(4, lambda: -1) == -1
