"""When an app has come to rest, so that a test goes on neither too soon nor after a fixed time.

The loop that runs the app is asked (`resting.py`). Textual also puts work off for a moment: what is to be painted, what
is to be called once it is painted, and what a timer calls that rings once and soon. That goes through public methods
(`WATCHED`), which are watched, and a pause of its pilot paints. So nothing here depends on how fast the computer is.
Workers are waited for apart, as a test may hold one up on purpose.

One private name of Textual is used, `PRIVATE`; `test_tui_still.py` tells when it is gone.
"""

from __future__ import annotations

import asyncio
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from typing import Any

from resting import Resting
from textual import events
from textual.app import App
from textual.keys import KEY_TO_UNICODE_NAME, REPLACED_KEYS
from textual.message_pump import MessagePump
from textual.pilot import Pilot
from textual.strip import Strip
from textual.timer import Timer
from textual.widget import Widget

SOON = 0.05
"""Seconds. A timer that rings once, this soon, is work put off: Textual so waits for the last of several sizes."""
LONGEST = 60.0
"""Seconds after which an app that does not come to rest is a failure."""
WATCHED = ((Widget, "refresh"), (MessagePump, "call_after_refresh"), (MessagePump, "set_timer"), (Timer, "stop"))
"""The methods by which Textual puts work off."""
PRIVATE = "_compositor"
"""What a screen's rows are read from; Textual has no public door to the screen as a person sees it."""


# ---------------------------------------------------------------- work put off


class PutOff:
    """What Textual has put off: how often it did so for the paint, and the timers that ring once and soon."""

    def __init__(self) -> None:
        self.count = 0
        self.watchers = 0
        self.rings: dict[Timer | object, tuple[MessagePump, float]] = {}

    @property
    def soon(self) -> bool:
        """Whether a timer is about to ring. One whose widget is gone rings no more."""
        self.rings = {ring: (pump, at) for ring, (pump, at) in self.rings.items() if pump.is_running}
        return bool(self.rings)

    @contextmanager
    def watching(self) -> Iterator[None]:
        """See what goes through the methods of `WATCHED`."""
        self.watchers += 1
        try:
            if self.watchers > 1:
                yield
            else:
                with self._wrapped():
                    yield
        finally:
            self.watchers -= 1

    @contextmanager
    def _wrapped(self) -> Iterator[None]:
        kept = [(owner, name, getattr(owner, name)) for owner, name in WATCHED]
        refresh, after, timer, stop = (method for _, _, method in kept)
        try:
            Widget.refresh = self._counted(refresh)  # type: ignore[method-assign]
            MessagePump.call_after_refresh = self._counted(after)  # type: ignore[method-assign]
            MessagePump.set_timer = self._rings(timer)  # type: ignore[method-assign]
            Timer.stop = self._stops(stop)  # type: ignore[method-assign]
            yield
        finally:
            for owner, name, method in kept:
                setattr(owner, name, method)

    def _counted(self, method: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(method)
        def counted(*args: Any, **kwargs: Any) -> Any:
            self.count += 1
            return method(*args, **kwargs)

        return counted

    def _rings(self, method: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(method)
        def rings(pump: MessagePump, delay: float, callback: Any = None, **kwargs: Any) -> Timer:
            if delay > SOON or callback is None or kwargs.get("pause"):
                made: Timer = method(pump, delay, callback, **kwargs)
                return made

            @wraps(callback)
            def rung() -> Any:
                self.rings.pop(timer, None)
                self.count += 1
                return callback()

            timer: Timer = method(pump, delay, rung, **kwargs)
            self.rings[timer] = (pump, delay)
            return timer

        return rings

    def _stops(self, method: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(method)
        def stops(timer: Timer) -> None:
            self.rings.pop(timer, None)
            method(timer)

        return stops


put_off = PutOff()
"""Of all apps that run now."""


async def still(pilot: Pilot[Any]) -> None:
    """Until the app is at rest: nothing to do, nothing to paint, nothing put off.

    Raises AssertionError when it is not at rest after `LONGEST`."""
    loop = asyncio.get_running_loop()
    assert isinstance(loop, Resting), "the app has to run on the loop that tells when it rests"
    try:
        async with asyncio.timeout(LONGEST):
            await _rest(pilot, loop)
    except TimeoutError:
        raise AssertionError("the app does not come to rest") from None


async def _rest(pilot: Pilot[Any], loop: Resting) -> None:
    quiet = 0
    while quiet < 2:  # the second look sees that the paint of the first has led to nothing
        await loop.rest()
        if not pilot.app.is_running:
            return
        before = put_off.count
        # Textual's pause hands on what its widgets were sent, and paints.
        await pilot.pause(0)
        await pilot.app.animator.wait_until_complete()
        await loop.rest()
        quiet = quiet + 1 if put_off.count == before and not put_off.soon else 0
        if put_off.soon:
            await asyncio.sleep(0.001)


def key_event(name: str) -> events.Key:
    """What a terminal would send for a key of this name, with the character that it stands for, if it is one."""
    if len(name) == 1:
        return events.Key(name, name)
    other = REPLACED_KEYS.get(name, name)
    told = KEY_TO_UNICODE_NAME.get(other, other.upper().replace("_", " "))
    try:
        return events.Key(name, unicodedata.lookup(told))
    except KeyError:
        return events.Key(name, None)


def painted(app: App[Any]) -> list[str]:
    """The rows of the screen as they are seen, without their colours."""
    return [strip.text.rstrip() for strip in strips(app)]


def strips(app: App[Any]) -> list[Strip]:
    """The same with their colours."""
    found: list[Strip] = getattr(app.screen, PRIVATE).render_strips()
    return found
