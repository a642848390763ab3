"""A sample of the kills; the whole is `python tests/case/kill.py --times 1000`."""

from __future__ import annotations

from collections.abc import Callable

import kill


def test_a_kill_at_a_random_moment_loses_nothing_that_was_shown(record_property: Callable[[str, object], None]) -> None:
    record_property("figure", kill.run(times=8, seed=8))
