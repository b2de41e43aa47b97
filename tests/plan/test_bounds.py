"""What a key of a day's files may hold."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from pydantic_core import ValidationError

from runbook.plan.bounds import Id, is_id
from runbook.plan.shape import validator
from runbook.plan.tuples import NamedTuple


class Named(NamedTuple):
    id: Id


@given(st.text(max_size=30) | st.from_regex(r"[A-Za-z0-9_-]{0,26}", fullmatch=True))
def test_an_id_is_what_the_pattern_of_ids_matches(text: str) -> None:
    try:
        validator(Named).validate_python({"id": text})
        allowed = True
    except ValidationError:
        allowed = False
    assert is_id(text) is allowed
