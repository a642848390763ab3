"""A sample of the power cuts, with controls that must lose; the whole is `python tests/record/power_cut.py`."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable

import pytest
from record import power_cut


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is missing: apt-get install strace")
def test_a_power_cut_loses_nothing_that_was_told(record_property: Callable[[str, object], None]) -> None:
    for line in power_cut.run(times=25, entries=30, seed=3):
        record_property("figure", line)


def test_of_what_was_not_synchronised_each_sector_is_there_or_not() -> None:
    disk = power_cut.Disk()
    disk.write("a", 0, b"x" * 1024)
    disk.sync("a")
    disk.write("a", 0, b"y" * 1024)
    disk.write("a", 512, None)
    found = {disk.cut(random.Random(seed))["a"] for seed in range(200)}
    whole, half = b"x" * 512, b"y" * 512
    assert found == {a + b for a in (whole, half) for b in (b"", whole, half)}
    disk.sync("a")
    assert disk.cut(random.Random(0)) == {"a": half}
