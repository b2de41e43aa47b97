"""The demo day as texts, to edit in memory."""

from pathlib import Path

from runbook.files.load import read_files
from runbook.model.day import Plan

DEMO = Path(__file__).parents[2] / "setups" / "lantern-row"
TEXTS = {path.name: path.read_text("utf-8") for path in sorted(DEMO.glob("*.toml"))}


def after(change: dict[str, str | None], texts: dict[str, str] = TEXTS) -> dict[str, str]:
    """Return the texts with a change made."""
    return {name: text for name, text in (texts | change).items() if text is not None}


def plan_of(texts: dict[str, str]) -> Plan:
    """Return the plan these texts make. Raises Unreadable."""
    return read_files(Path("day"), {name: text.encode() for name, text in texts.items()})
