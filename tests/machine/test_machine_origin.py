"""Each word of an entry is told with the file and line that it comes from, through modules, chains and `but`."""

from __future__ import annotations

from pathlib import Path

from diag.machine.load import load
from diag.machine.origin import Line, lines_in

ROOT = Path(__file__).resolve().parents[2]
MODULE = """\
title: A lamp with its supply
parameters:
  lamp: {what: the lamp, kind: indication}
causes:
  dead:
    title: No voltage
    part: supply
    often: rare
    shows: {lamp: dark}
"""
MACHINE = """\
format: 1
title: T
place: P
indications:
  own-lamp: {lamp: red, normal: lit}
  guard: {contact: make, normal: closed}
uses:
  - module: supply
    as: rack
    with: {lamp: own-lamp}
    but: {causes: {dead: {often: common}}}
chains:
  stops:
    series: [guard, button]
    cause: {often: rare}
"""


def machine(tmp_path: Path) -> Path:
    (tmp_path / "modules").mkdir()
    (tmp_path / "modules" / "supply.yaml").write_text(MODULE)
    folder = tmp_path / "line"
    folder.mkdir()
    (folder / "machine.yaml").write_text(MACHINE)
    return folder


def told(lines: tuple[Line, ...]) -> dict[str, tuple[str, str, int, int | None]]:
    return {
        ".".join(map(str, line.path)): (
            line.text,
            Path(line.place.file).name,
            line.place.line,
            line.place.used.line if line.place.used else None,
        )
        for line in lines
    }


def test_a_module_s_entry_tells_its_own_lines_and_those_of_the_use(tmp_path: Path) -> None:
    found = told(lines_in(load(machine(tmp_path)).written, "cause", "rack-dead"))
    assert found == {
        "title": ("No voltage", "supply.yaml", 6, 8),
        "part": ("supply", "supply.yaml", 7, 8),
        "often": ("common", "machine.yaml", 11, None),
        "shows.own-lamp": ("dark", "supply.yaml", 9, 8),
    }


def test_a_chain_s_entry_tells_the_chain_s_lines_and_the_member(tmp_path: Path) -> None:
    found = told(lines_in(load(machine(tmp_path)).written, "causes", "stops-guard-open"))
    assert found["often"] == ("rare", "machine.yaml", 15, None)
    assert found["title"] == ("Guard open, or its wire broken", "machine.yaml", 14, None)


def test_every_word_of_every_entry_stands_where_it_is_told() -> None:
    for folder in (ROOT / "tests" / "machines" / "mixer", ROOT / "tests" / "kinds" / "bench"):
        written = load(folder).written
        looked_at = 0
        for section in ("indications", "causes", "checks", "remedies"):
            for id in written.maps[section]:
                for line in lines_in(written, section, id):
                    text = Path(line.place.file).read_text(encoding="utf-8").split("\n")[line.place.line - 1]
                    looked_at += 1
                    if len(line.text.split()) == 1:
                        assert line.text in text or not line.text, line
        assert looked_at > 100


def test_what_is_not_there_has_no_lines(tmp_path: Path) -> None:
    assert lines_in(load(machine(tmp_path)).written, "cause", "no-such-thing") == ()
    assert lines_in(load(tmp_path / "nowhere").written, "cause", "x") == ()
