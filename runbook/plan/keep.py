"""Keeping a reading in kit.toml: added at its end, everything above it left to the letter."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from runbook.plan.kit import Measured


def keep_measured(folder: Path, row: Measured) -> None:
    """Add a ``[[measured]]`` row to a day's kit.toml, whole or not at all.

    Comments, order and everything else in the file stay as they are. A later row for the same
    head, modifier and accessories beats an earlier one. Raises OSError.
    """
    path = (folder / "kit.toml").resolve()
    before = path.read_bytes()
    gap = b"" if before.endswith(b"\n") or not before else b"\n"
    written = before + gap + _table(row).encode()
    handle, name = tempfile.mkstemp(prefix=".kit-", dir=path.parent)
    try:
        with open(handle, "wb") as file:  # noqa: PTH123 - a handle, not a path
            file.write(written)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(path.stat().st_mode & 0o777)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _table(row: Measured) -> str:
    import tomli_w

    facts = {
        "head": row.head,
        "modifier": row.modifier,
        "accessories": list(row.accessories),
        "power": row.power,
        "distance_m": round(row.distance_m, 3),
        "iso": row.iso,
        "reads_f": round(row.reads_f, 3),
    }
    return "\n[[measured]]\n" + tomli_w.dumps(facts)
