"""The machines by which growth is measured: sound, as large as asked for, and the same for a seed."""

from __future__ import annotations

from pathlib import Path

from diag.machine.load import read
from diag.measure.growth_machine import PER_STATION, machine


def test_a_machine_has_the_causes_asked_for_and_is_sound(tmp_path: Path) -> None:
    (tmp_path / "machine.yaml").write_text(machine(60), encoding="utf-8")
    found = read(tmp_path)
    assert len(found.causes) == 60
    assert all(cause.remedy is not None for cause in found.causes.values())
    assert any(indication.follows for indication in found.indications.values())


def test_a_size_between_stations_is_rounded_up() -> None:
    assert machine(PER_STATION + 1) == machine(2 * PER_STATION)


def test_a_seed_gives_the_same_machine_and_another_seed_another() -> None:
    assert machine(40, seed=3) == machine(40, seed=3) != machine(40, seed=4)
