"""The case's clock. A case is given one, and stamps every event with it; no fold reads the time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

Clock = Callable[[], datetime]
"""Gives the present time, aware of its zone."""


def utc_now() -> datetime:
    """The computer's own time, in UTC."""
    return datetime.now(UTC)
