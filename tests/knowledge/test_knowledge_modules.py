"""The modules that come with the program, each at work in a small machine of `tests/modules`."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest

from diag.machine.find import shipped_folder
from diag.machine.load import load, read
from diag.machine.model import Machine
from diag.vet import vet_machine
from diag.vet.examples.replay_example import replay

FOLDER = Path(__file__).parent.parent / "modules"
MACHINES = sorted(folder.name for folder in FOLDER.iterdir())


@pytest.mark.parametrize("name", MACHINES)
def test_nothing_is_to_be_said_against_it(name: str) -> None:
    assert [str(problem) for problem in vet_machine(FOLDER / name) if problem.level != "info"] == []


def test_what_remains_to_be_said_of_a_module_is_one_line_for_each_use() -> None:
    told = [p.text for p in vet_machine(FOLDER / "two-axes") if p.rule == "unshown-state"]
    assert [text.split("'")[1] for text in told] == ["amp1-able", "amp2-able"]
    assert "; the same of 'amp1-cause', 'amp1-digit'; of a module, it may stay; used in " in told[0]


@pytest.mark.parametrize("name", MACHINES)
def test_its_examples_come_out(name: str) -> None:
    machine = read(FOLDER / name)
    assert machine.examples
    assert {
        example.id: replay(machine, example).trouble for example in machine.examples if replay(machine, example).trouble
    } == {}


@pytest.mark.parametrize("name", MACHINES)
def test_no_mark_and_no_word_in_braces_is_left_in_it(name: str) -> None:
    left = [text for text in _texts(read(FOLDER / name)) if "\x01" in text or "{" in text]
    assert left == []


def test_every_module_is_at_work_somewhere() -> None:
    used = {Path(file).stem for name in MACHINES for file in load(FOLDER / name).written.files if "/modules/" in file}
    shipped = {path.stem for path in (shipped_folder() / "modules").glob("*.yaml")}
    assert shipped <= used
    assert shipped


def patterns(machine: Machine, id: str) -> dict[str, str]:
    return {state.pattern: state.id for state in machine.indications[id].states}


@pytest.mark.source("CiA 303-3 v1.4: RUN and ERR", found="read in public copies")
def test_the_lamps_by_cia_303_3_mean_what_it_says() -> None:
    machine = read(FOLDER / "networked")
    assert patterns(machine, "valves-run") == {
        "steady": "operational",
        "blink": "pre-operational",
        "1 flash": "stopped",
        "3 flashes": "loading",
        "flicker": "settings",
        "off": "dark",
    }
    assert patterns(machine, "valves-err") == {
        "off": "none",
        "blink": "configuration",
        "1 flash": "warning",
        "2 flashes": "guarding",
        "3 flashes": "sync",
        "4 flashes": "timer",
        "flicker": "settings",
        "steady": "bus-off",
    }


@pytest.mark.source("ETG.1300: RUN", found="read in public copies")
def test_the_run_lamp_by_etg_1300_means_what_it_says() -> None:
    run = patterns(read(FOLDER / "networked"), "lift-run")
    assert run == {"off": "dark", "blink": "pre-operational", "1 flash": "safe-operational", "steady": "operational"}


@pytest.mark.source("ETG.1300: ERR", found="from memory")
def test_the_err_lamp_by_etg_1300_means_what_it_says() -> None:
    err = patterns(read(FOLDER / "networked"), "lift-err")
    assert err == {
        "off": "none",
        "blink": "configuration",
        "1 flash": "local",
        "2 flashes": "watchdog",
        "steady": "application",
    }


@pytest.mark.source("IEC 61131-2: 24 V d.c., -15 %/+20 %, 20.4 to 28.8 V", found="read in public copies")
def test_the_limits_of_a_supply_go_with_its_voltage() -> None:
    machine = read(FOLDER / "two-supplies")
    for supply, low, high in (("rack", 20.4, 28.8), ("valves", 40.8, 57.6)):
        (good,) = [band for band in machine.indications[f"{supply}-output"].bands if band.state == "good"]
        assert (good.low, good.high) == (low, high)


PAGES = Path(__file__).parent.parent.parent
SITE = """format: 1
title: Packer 1
place: Hall 2
call: {engineer: the engineer on duty}
points: {main-switch: {title: Main switch, where: left}}
test-points: {terminals: {title: Outgoing terminals, expects: 0 V, below: 5 V}}
zones: {cabinet: {title: Cabinet, points: main-switch, test-points: terminals}}
indications:
  supply-lamp: {lamp: green, label: SUPPLY, where: front, normal: lit}
  guard-lamp: {lamp: green, label: GUARDS, where: front, normal: lit}
  block-lamp: {lamp: green, label: BLOCK, where: front, normal: lit}
  port-a-lamp:
    lamp: green
    where: front
    normal: traffic
    states: {traffic: flicker, still: steady, dark: off}
"""


def blocks(page: str) -> list[str]:
    """The examples in YAML of a page."""
    return re.findall(r"^```yaml\n(.*?)^```", (PAGES / page).read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)


def test_the_examples_of_the_pages_hold(tmp_path: Path) -> None:
    use, series, drives = (b for b in blocks("diag/pages/modules.md") if b.startswith(("uses:", "chains:")))
    module, line = blocks("DEVELOPERS.md")
    lines = "".join(chain.removeprefix("chains:\n") for chain in (drives, line))
    own = "  - {module: small, as: small, with: {lamp: supply-lamp}}\n"
    (tmp_path / "packer").mkdir()
    (tmp_path / "packer" / "machine.yaml").write_text(SITE + use + own + series + lines)
    (tmp_path / "modules").mkdir()
    (tmp_path / "modules" / "small.yaml").write_text(module)
    assert [str(problem) for problem in vet_machine(tmp_path / "packer") if problem.level == "error"] == []
    machine = read(tmp_path / "packer")
    assert machine.causes["small-dead"].shows == {"small-output": {"absent": 0.98}, "supply-lamp": {"dark": 0.98}}
    assert machine.remedies["rack-change-unit"].minutes == 50
    assert {"stops-rear-guard-open", "axis-line-drive-2-dead"} <= set(machine.causes)
    assert {"drives-drive-1-cable", "drives-drive-1-dead"} <= set(machine.causes)
    assert {"drives-drive-2-in", "drives-drive-1-out", "drives-drive-1-power"} <= set(machine.indications)
    assert {"stops-test-front-guard", "drives-drive-1-look"} <= set(machine.checks)
    assert "stops-after-front-guard" in machine.indications


def test_the_module_of_the_page_for_trainers_has_nothing_to_be_said_against_it(tmp_path: Path) -> None:
    (module,) = (block for block in blocks("diag/pages/modules.md") if "\nparameters:" in block)
    use = re.search(r"^#   (- \{module: guard-door, as: front, with: .*\})$", module, re.MULTILINE)
    assert use is not None
    (tmp_path / "packer").mkdir()
    lamps = (
        SITE[: SITE.index("  supply-lamp")] + "  guard-lamp: {lamp: green, label: GUARDS, where: front, normal: lit}\n"
    )
    (tmp_path / "packer" / "machine.yaml").write_text(f"{lamps}uses:\n  {use[1]}\n")
    (tmp_path / "modules").mkdir()
    (tmp_path / "modules" / "guard-door.yaml").write_text(module)
    assert [problem.rule for problem in vet_machine(tmp_path / "packer")] == ["no-example"]
    machine = read(tmp_path / "packer")
    assert set(machine.causes) == {"front-left-ajar", "front-switch-failed"}
    assert machine.indications["front-seen"].title == "How does the front door stand?"
    (remedy,) = (r for r in machine.remedies.values() if r.zone)
    assert (remedy.do, remedy.minutes, remedy.zone) == ("Change the switch of the front door.", 20, "cabinet")


def _texts(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value]
    if is_dataclass(value):
        return [text for f in fields(value) for text in _texts(getattr(value, f.name))]
    if isinstance(value, Mapping):
        return [text for pair in value.items() for child in pair for text in _texts(child)]
    return [text for child in value for text in _texts(child)] if isinstance(value, list | tuple) else []
