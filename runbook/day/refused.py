"""What a person asked for and cannot have now."""

from __future__ import annotations


class Refused(Exception):
    """An action that cannot be done now; the text says why, and what would be right."""
