"""Values read from JSON and written to it (see ``validate``)."""

from __future__ import annotations

from runbook.plan.validate import parse, parse_json, plain

__all__ = ["parse", "parse_json", "plain"]
