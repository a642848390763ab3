"""`diag list` and `diag show`: what there is, and where each line of it comes from."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from diag.cli.columns import cells
from diag.cli.files.list import how_often
from diag.cli.files.show_machine import as_object, cell, matrix
from diag.cli.group import diag
from diag.cli.printing import counted
from diag.machine.find import shipped_folder
from diag.machine.load import load, read
from diag.machine.model import Machine, scaled
from diag.reason.table.compile import compile, unslip

MACHINES = Path(__file__).resolve().parents[1] / "machines"
MODULE = """\
title: A lamp with its supply
parameters:
  lamp: {what: the lamp, kind: indication}
  nominal: {what: its voltage in V d.c., kind: number, default: 24}
  words: {what: some words, kind: list, default: [one, two]}
causes:
  dead:
    title: No voltage
    part: supply
    often: rare
    shows: {lamp: dark}
"""
MACHINE = """\
format: 1
title: Packer
place: Hall 2
revision: "1"
minutes: {lock: 5, restore: 5}
indications:
  own-lamp: {lamp: red, label: FAULT, where: door, normal: lit, states: {lit: steady, dark: "off"}}
uses:
  - module: lamp-supply
    as: rack
    with: {lamp: own-lamp}
    but: {causes: {dead: {often: common}}}
"""


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A folder with one machine that uses one module."""
    (tmp_path / "modules").mkdir()
    (tmp_path / "modules" / "lamp-supply.yaml").write_text(MODULE, encoding="utf-8")
    (tmp_path / "packer").mkdir()
    (tmp_path / "packer" / "machine.yaml").write_text(MACHINE, encoding="utf-8")
    return tmp_path


def run(knowledge: Path, *args: str, env: dict[str, str] | None = None) -> Result:
    return CliRunner().invoke(diag, ["--no-shipped", "--knowledge", str(knowledge), *args], env=env)


def shown(knowledge: Path, *args: str, env: dict[str, str] | None = None) -> list[str]:
    result = run(knowledge, *args, env=env)
    assert result.exit_code == 0, result.output
    assert result.stderr == ""
    return result.stdout.splitlines()


def told(knowledge: Path, *args: str) -> dict[str, object]:
    found = json.loads("\n".join(shown(knowledge, *args, "--json")))
    assert found["version"] == 1
    return dict(found)


# ------------------------------------------------------------ list


def test_machines_with_their_approval_and_place(site: Path) -> None:
    assert shown(site, "list") == shown(site, "list", "machines") == ["packer  draft  Packer, Hall 2"]
    assert told(site, "list")["machines"] == [
        {
            "id": "packer",
            "title": "Packer",
            "place": "Hall 2",
            "assets": [],
            "approval": "draft",
            "approved": False,
            "folder": str(site / "packer"),
            "hides": [],
            "problem": None,
        }
    ]


def test_a_machine_that_is_in_two_folders_is_told_with_both(site: Path, tmp_path: Path) -> None:
    (tmp_path / "other" / "packer").mkdir(parents=True)
    (tmp_path / "other" / "packer" / "machine.yaml").write_text("place: Hall 3\n", encoding="utf-8")
    other = str(tmp_path / "other")
    both = ["--no-shipped", "--knowledge", str(site), "--knowledge", other, "list"]
    lines = CliRunner().invoke(diag, both, env={"COLUMNS": "1000"}).stdout.splitlines()
    assert lines[0] == "packer  ! unusable  Packer, Hall 2"
    both_paths = f"'{site / 'packer'}' and '{tmp_path / 'other' / 'packer'}'"
    assert " ".join(" ".join(lines[1:]).split()).startswith(f"packer: it is in several folders, {both_paths}; rename")
    result = CliRunner().invoke(diag, ["--knowledge", str(tmp_path / "other"), "--no-shipped", "list"])
    assert "packer: its machine.yaml has no title" in result.stdout


def test_a_folder_s_name_makes_no_row_of_its_own(site: Path) -> None:
    forged = site / "a\npump  approved by me on 2026-11-25  Pump"
    forged.mkdir()
    (forged / "machine.yaml").write_text("title: Oven\n", encoding="utf-8")
    lines = shown(site, "list", env={"COLUMNS": "200"})
    assert not any(line.startswith("pump") for line in lines)
    assert "  ! unusable  Oven" in lines[0]
    assert any("its folder's name holds" in line for line in lines)


def test_a_machine_that_cannot_be_used_is_no_draft(site: Path) -> None:
    for name, text in {"broken": "title: Oven\nplace: [\n", "nameless": "place: Hall 1\n"}.items():
        (site / name).mkdir()
        (site / name / "machine.yaml").write_text(text, encoding="utf-8")
    rows = {row["id"]: row for row in told(site, "list")["machines"]}  # type: ignore[attr-defined]
    assert rows["broken"]["problem"].startswith("its machine.yaml cannot be used: line 3: ")
    assert rows["nameless"]["problem"] == "its machine.yaml has no title"
    assert (rows["packer"]["problem"], rows["packer"]["approval"]) == (None, "draft")
    for name in ("broken", "nameless"):
        assert (rows[name]["approval"], rows[name]["approved"]) == (None, False)
        assert any(line.split()[:3] == [name, "!", "unusable"] for line in shown(site, "list"))


def test_a_folder_that_is_not_there_is_told_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    config = tmp_path / "config.toml"
    config.write_text('knowledge = ["gone"]\n', encoding="utf-8")
    monkeypatch.setenv("DIAG_KNOWLEDGE", "/dev/null")
    monkeypatch.setenv("DIAG_CONFIG", str(config))
    result = CliRunner().invoke(diag, ["list"])
    assert result.exit_code == 0
    assert "tray-stacker" in result.stdout
    assert result.stderr.splitlines() == [
        "diag: DIAG_KNOWLEDGE names /dev/null as a folder of machines, and there is no such folder",
        f"diag: the config file names {tmp_path / 'gone'} as a folder of machines, and there is no such folder",
    ]


def test_what_a_machine_holds(mixer: Machine) -> None:
    lamps = [line.split()[0] for line in shown(MACHINES, "list", "indications", "mixer") if " lamp  " in line]
    assert lamps == [i.id for i in mixer.indications.values() if i.kind.value == "lamp"]
    for what, entries in (("indications", mixer.indications), ("causes", mixer.causes)):
        rows = told(MACHINES, "list", what, "mixer")[what]
        assert isinstance(rows, list)
        assert [row["id"] for row in rows] == list(entries)
        lines = shown(MACHINES, "list", what, "mixer")
        assert all(any(line.startswith(id) for line in lines) for id in entries)
    rows = told(MACHINES, "list", "checks", "mixer")["checks"]
    assert isinstance(rows, list)
    assert [row["id"] for row in rows] == [check.id for check in mixer.checks.values() if not check.implied]
    assert all(row["access"] in ("outside", "dead", "live") and row["minutes"] > 0 for row in rows)


def test_the_normal_state_has_a_star(site: Path) -> None:
    assert shown(site, "list", "indications", "packer") == ["own-lamp  lamp  FAULT: lit*, dark"]


def test_modules_of_a_site_stand_beside_those_that_come_with_diag(site: Path) -> None:
    names = [line.split()[0] for line in shown(site, "list", "modules") if line[0] != " "]
    assert "lamp-supply" in names
    assert {path.stem for path in (shipped_folder() / "modules").glob("*.yaml")} <= set(names)
    assert names == sorted(names)


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["machine"], "unknown kind of list 'machine'; nearest: 'machines'"),
        (["causes"], "causes of which machine? diag list causes MACHINE"),
        (["machines", "packer"], "diag list machines takes no machine"),
        (["causes", "paker"], "no machine 'paker'; nearest: packer"),
        (["c\x1b[31m\n"], "unknown kind of list 'c"),
    ],
)
def test_wrong_words_are_one_line(site: Path, args: list[str], says: str) -> None:
    result = run(site, "list", *args)
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stderr.count("\n") == 1
    assert "\x1b" not in result.stderr


def test_how_often_in_words() -> None:
    assert [how_often(rate) for rate in (2.0, 1.0, 0.3, 0.1, 0.02)] == [
        "2 a year",
        "1 a year",
        "once in 3.3 years",
        "once in 10 years",
        "once in 50 years",
    ]


# ------------------------------------------------------------ show an entry


def test_each_line_of_an_entry_has_its_file_and_line_and_the_use_of_its_module(site: Path) -> None:
    lines = shown(site, "show", "packer", "rack-dead", env={"COLUMNS": "1000"})
    module, own = f"{site}/modules/lamp-supply.yaml", f"{site}/packer/machine.yaml"
    assert [" ".join(line.split()) for line in lines] == [
        "packer: cause rack-dead",
        f"title: No voltage {module}:8 (1)",
        f"part: supply {module}:9 (1)",
        f"often: common {own}:12",
        f"shows.own-lamp: dark {module}:11 (1)",
        f"(1) used in {own}:9",
    ]
    assert all(cells(line) <= 1000 for line in lines)


def test_the_lines_as_json(site: Path) -> None:
    found = told(site, "show", "packer", "rack-dead")
    assert (found["machine"], found["name"]) == ("packer", "rack-dead")
    (entry,) = found["entries"]  # type: ignore[misc]
    assert (entry["section"], entry["kind"], entry["notes"]) == ("causes", "cause", [])
    often, shows = (next(x for x in entry["lines"] if x["path"][0] == word) for word in ("often", "shows"))
    assert (often["text"], Path(often["file"]).name, often["line"], often["used"]) == ("common", "machine.yaml", 12, [])
    assert shows["path"] == ["shows", "own-lamp"]
    assert (Path(shows["file"]).name, [use["line"] for use in shows["used"]]) == ("lamp-supply.yaml", [9])


def test_every_line_stands_where_it_is_told() -> None:
    """The words of each entry of a machine are found at the file and line that stands behind them."""
    machine = load(shipped_folder() / "tray-stacker").machine
    assert machine is not None
    for id in (*list(machine.causes)[:12], *list(machine.indications)[:12], *machine.zones, *machine.points):
        for entry in told(shipped_folder(), "show", "tray-stacker", id)["entries"]:  # type: ignore[attr-defined]
            for line in entry["lines"]:
                text = Path(line["file"]).read_text(encoding="utf-8").split("\n")[line["line"] - 1]
                assert len(line["text"].split()) > 1 or line["text"] in text, line


def test_every_name_of_a_machine_can_be_shown(mixer: Machine) -> None:
    m = mixer
    for section in (m.indications, m.causes, m.remedies, m.checks, m.resets, m.trees, m.zones, m.points, m.test_points):
        for id in section:
            lines = shown(MACHINES, "show", "mixer", id)
            assert lines[0].startswith("mixer: ")
            assert len(lines) > 1
    for example in m.examples:
        assert f"mixer: example {example.id}" in shown(MACHINES, "show", "mixer", example.id)


def test_an_indication_tells_what_gives_it_and_which_causes_speak_of_it() -> None:
    text = " ".join(" ".join(shown(MACHINES, "show", "mixer", "dc-supply")).split())
    assert "given by " in text
    assert "mentioned by the causes " in text
    assert "supply-unit-failed" in text


def test_work_inside_is_never_shown_as_allowed(mixer: Machine) -> None:
    """Whatever an entry tells of work inside, the lockout is named with it."""
    inside = [c.id for c in mixer.checks.values() if c.access.value != "outside"]
    inside += [r.id for r in mixer.remedies.values() if r.access.value != "outside"]
    assert inside
    for id in inside:
        assert "is for the lockout in the app" in " ".join(" ".join(shown(MACHINES, "show", "mixer", id)).split())


@pytest.mark.parametrize(
    ("args", "code", "says"),
    [
        (["packer", "rack-daed"], 2, "unknown entry 'rack-daed' of 'packer'; nearest: 'rack-dead'"),
        (["paker"], 2, "unknown machine or module 'paker'; nearest: 'packer'"),
        (["lamp-suply"], 2, "unknown machine or module 'lamp-suply'; nearest: 'lamp-supply'"),
        (["lamp-supply", "dead"], 2, "lamp-supply is a module"),
        (["packer", "a\x1b[31m\nb"], 2, "unknown entry 'a"),
        (["packer", "\0"], 2, "unknown entry"),
        ([""], 2, "unknown machine or module ''"),
    ],
)
def test_wrong_names_are_one_line(site: Path, args: list[str], code: int, says: str) -> None:
    result = run(site, "show", *args)
    assert result.exit_code == code
    assert says in result.stderr
    assert result.stderr.count("\n") == 1
    assert "\x1b" not in result.stderr


def test_a_broken_machine_is_one_line(site: Path) -> None:
    (site / "packer" / "machine.yaml").write_text(MACHINE.replace("lamp: red", "lamp: rde"), encoding="utf-8")
    for args in (["packer"], ["packer", "own-lamp"]):
        result = run(site, "show", *args)
        assert result.exit_code == 1
        assert "machine.yaml:7:" in result.stderr
        assert result.stderr.count("\n") == 1


def test_control_characters_of_a_file_reach_no_terminal(site: Path) -> None:
    text = MACHINE.replace("title: Packer", 'title: "Pack\\e[31mer \\u202E"')
    (site / "packer" / "machine.yaml").write_text(text, encoding="utf-8")
    for args in (["list"], ["show", "packer"], ["show", "packer", "own-lamp"]):
        result = run(site, *args)
        assert "\x1b" not in result.output
        assert "\u202e" not in result.output


# ------------------------------------------------------------ show a machine


def test_a_machine_whole(mixer: Machine) -> None:
    text = "\n".join(shown(MACHINES, "show", "mixer"))
    assert text.startswith("Dough mixer 4, Dough room\n")
    assert "Not approved" in text
    for hazard in mixer.hazards:
        assert hazard[:40] in text
    for zone in mixer.zones:
        assert f"  {zone}" in text
    found = told(MACHINES, "show", "mixer")
    assert [c["id"] for c in found["causes"]] == list(mixer.causes)  # type: ignore[attr-defined]
    assert {c["id"]: c["shows"] for c in found["causes"]} == {  # type: ignore[attr-defined]
        id: {i: pytest.approx(scaled(states), abs=1e-6) for i, states in cause.shows.items()}
        for id, cause in mixer.causes.items()
    }


@pytest.mark.parametrize("columns", [40, 80, 140, 4000])
def test_the_matrix_keeps_to_the_width_and_tells_each_cell_once(mixer: Machine, columns: int) -> None:
    lines = list(matrix(mixer, columns))
    assert all(cells(line) <= columns for line in lines)
    cells_of = [cell(shows) for cause in mixer.causes.values() for shows in cause.shows.values()]
    words = "\n".join(lines[: lines.index("How often")])
    if columns == 4000:
        assert "1 of" not in words
        head = lines.index(next(line for line in lines if line.startswith("mains-lost"))) - 1
        for id, cause in mixer.causes.items():
            row = next(line for line in lines[head:] if line.startswith(id))
            for indication, shows in cause.shows.items():
                # A name is broken behind its hyphens; its last part stands in the last line of the head.
                at = lines[head].index(indication.split("-")[-1])
                assert cell(shows).split()[0] in row[max(at - 20, 0) :]
    else:
        assert "1 of " in words
    for word in {word for text in cells_of for word in text.split() if columns > 60}:
        assert word[:8] in words


def test_cells_say_how_surely() -> None:
    assert cell({"dark": 0.98}) == "dark"
    assert cell({"low": 0.4, "absent": 0.85}) == "absent 68 low 32"
    assert cell({"never": 0.0}) == ""
    assert cell({}) == ""


def test_chances_are_shown_as_reasoning_uses_them(mixer: Machine) -> None:
    """The last one adds up to more than 1 as it is written."""
    id, ind = next((id, one) for id, one in mixer.indications.items() if len(one.states) > 2 and not one.follows)
    one, other = [state for state in ind.state_ids if state != ind.normal][:2]
    causes = {id: replace(cause, shows={}) for id, cause in mixer.causes.items()}
    for name, chances in zip(causes, ({one: 0.85}, {one: 0.4, other: 0.1}, {one: 0.85, other: 0.4}), strict=False):
        causes[name] = replace(causes[name], shows={id: chances})
        machine = replace(mixer, causes=causes)
        table = compile(machine)
        i = table.index[id]
        row = table.p[table.cause_index[name], table.columns(i)]
        used = row if table.joined[i] else unslip(row)
        told = next(cause["shows"][id] for cause in as_object(machine)["causes"] if cause["id"] == name)
        states = table.states[i]
        assert told == pytest.approx({state: used[states.index(state)] for state in chances}, abs=1e-6)
        percents = {state: f"{used[states.index(state)] * 100:.0f}" for state in chances}
        assert cell(chances).split() == [word for state in chances for word in (state, percents[state])]
        assert cell(chances) in " ".join(" ".join(matrix(machine, 200)).split())


def test_a_machine_without_causes_has_no_matrix(site: Path) -> None:
    (site / "bare").mkdir()
    text = MACHINE[: MACHINE.index("uses:")]
    (site / "bare" / "machine.yaml").write_text(text, encoding="utf-8")
    if load(site / "bare").machine is not None:
        assert "Causes by indications" not in "\n".join(shown(site, "show", "bare"))
    assert list(matrix(read(MACHINES / "mixer"), 80))


# ------------------------------------------------------------ show a module


def test_a_module_tells_what_it_asks_for_and_makes(site: Path) -> None:
    lines = shown(site, "show", "lamp-supply", env={"COLUMNS": "1000"})
    text = " ".join(" ".join(lines).split())
    assert text.startswith(f"module lamp-supply: A lamp with its supply {site}/modules/lamp-supply.yaml It asks for")
    assert "lamp indication the lamp" in text
    assert "nominal number its voltage in V d.c.; left out: 24" in text
    assert "words list some words; left out: one, two" in text
    assert "causes NAME-dead" in text
    found = told(site, "show", "lamp-supply")
    assert found["makes"] == {"causes": ["dead"]}
    assert [p["name"] for p in found["parameters"]] == ["lamp", "nominal", "words"]  # type: ignore[attr-defined]


def test_every_module_that_comes_with_diag_can_be_shown(site: Path) -> None:
    for path in (shipped_folder() / "modules").glob("*.yaml"):
        found = told(site, "show", path.stem)
        assert found["parameters"]
        assert found["makes"]
        assert found["problems"] == []
        assert shown(site, "show", path.stem)


def test_a_broken_module_says_what_is_wrong(site: Path) -> None:
    (site / "modules" / "lamp-supply.yaml").write_text("title: [\n", encoding="utf-8")
    lines = shown(site, "show", "lamp-supply", env={"COLUMNS": "1000"})
    assert any("lamp-supply.yaml:" in line for line in lines)
    assert "no title; its file may be broken" in " ".join(" ".join(shown(site, "list", "modules")).split())


@pytest.mark.parametrize(("number", "says"), [(0, "0 remedies"), (1, "1 remedy"), (1200, "1,200 remedies")])
def test_one_of_a_thing_is_told_as_one(number: int, says: str) -> None:
    assert counted(number, "remedy", "remedies") == says


def test_a_machine_with_one_indication_has_one_indication(site: Path) -> None:
    assert "1 indication, 1 cause, 0 checks" in " ".join(shown(site, "show", "packer"))
