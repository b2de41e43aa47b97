"""``python -m runbook``."""

from runbook.cli import run

run()
