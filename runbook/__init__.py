"""The runbook: a studio photographer's shoot day, walked through in the terminal."""

__version__ = "0.1.0"
