"""The named tuples of the standard library, under the name they had here."""

from typing import NamedTuple

__all__ = ["NamedTuple"]
