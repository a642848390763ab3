"""When an app has come to rest. What Textual's pilot waits for instead is a quiet processor, in steps of 20 ms.

A quiet processor is a guess: it costs 80 ms for each key, and on a busy computer it may be made too soon. Here the app
itself is asked: no message on its way, none being handled, nothing left to lay out, to paint or to call afterwards.
That does not depend on how fast the computer is. Workers are waited for apart, as a test may hold one up on purpose.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from time import monotonic
from typing import Any

from textual.app import App
from textual.message_pump import MessagePump
from textual.screen import Screen

TURNS = 5
"""Turns of the loop after which what was sent from outside stands in a queue: a key is handed over as to a thread."""
PATIENCE = 100
"""Looks before there is a pause between two of them, so that a thread that is waited for gets its share."""
SHORT = 0.05
"""Seconds. A timer that rings once, this soon, is work put off: Textual so waits for the last of several sizes."""
LONGEST = 30.0
"""Seconds after which an app that does not come to rest is a failure."""

on_stage: list[App[Any]] = []
"""The apps that now run."""


async def still(min_sleep: float = 0.0, max_sleep: float = LONGEST) -> None:
    """Until every app on the stage is at rest. Stands in for Textual's `wait_for_idle`, whose arguments it takes.

    Raises AssertionError when one is not at rest after `LONGEST`."""
    end, looks, rested = monotonic() + LONGEST, 0, 0
    while rested < 2:  # the second look sees that the paint of the first has led to nothing
        for _ in range(TURNS):
            await asyncio.sleep(0)
        resting = [_at_rest(app) for app in on_stage]
        if all(resting):
            rested += 1
        else:
            rested, looks = 0, looks + 1
            await asyncio.sleep(0.001 if looks > PATIENCE else 0)
        assert monotonic() < end, "the app does not come to rest"


def _at_rest(app: App[Any]) -> bool:
    """Whether nothing is left to do. What only waits for the next beat of the screen's clock is painted at once."""
    if app._exception_event.is_set() or not app.is_running:
        return True
    if any(_has_work(pump) for pump in _pumps(app)) or not app.animator._complete_event.is_set():
        return False
    screen = app.screen
    if _has_paint(screen):
        screen._on_timer_update()
        return False
    return True


def _pumps(app: App[Any]) -> Iterator[MessagePump]:
    """Whatever handles messages: the app, its screens, their widgets."""
    yield app
    for screen in app.screen_stack:
        yield from screen.walk_children(with_self=True)


def _has_work(pump: MessagePump) -> bool:
    """Whether a message waits, a short timer runs, or anything but waiting for a message is being done."""
    if pump._task is None or pump._closed:
        return False
    if pump.message_queue_size or pump._next_callbacks:
        return True
    if any(t._repeat == 0 and t._interval <= SHORT and t._task and not t._task.done() for t in list(pump._timers)):
        return True
    return all(waiter.done() for waiter in pump._message_queue.ready_event._waiters)


def _has_paint(screen: Screen[Any]) -> bool:
    return bool(
        screen._callbacks
        or screen._dirty_widgets
        or screen._layout_required
        or screen._repaint_required
        or screen._scroll_required
        or screen._recompose_required
    )
