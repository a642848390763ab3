"""A loop that tells when it has nothing left to do but wait. It differs from asyncio's own in nothing else.

A loop asks its selector what has come in from outside, and how long it may wait for that. It allows no time at all as
long as anything is left that can be done now; so when it allows some and nothing has come, it is at rest.
"""

from __future__ import annotations

import asyncio
import selectors


class _Selector(selectors.DefaultSelector):
    """Tells those who asked when the loop would begin to wait."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: list[asyncio.Future[None]] = []

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        if not self.asked or (timeout is not None and timeout <= 0):
            return super().select(timeout)
        came = super().select(0)
        if not came:
            for future in self.asked:
                if not future.done():
                    future.set_result(None)
            self.asked.clear()
        return came


class Resting(asyncio.SelectorEventLoop):
    """A loop that tells when it has nothing left to do but wait."""

    def __init__(self) -> None:
        self._told_by = _Selector()
        super().__init__(self._told_by)

    async def rest(self) -> None:
        """Until nothing is left that can be done now."""
        future = self.create_future()
        self._told_by.asked.append(future)
        await future
