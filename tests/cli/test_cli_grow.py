"""`diag grow --table`: a tree as JSON, and one line for every table that makes no sense."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from diag.cli.group import diag

SIX = ["00000", "01001", "00110", "10011", "11000", "11110"]
GOOD: dict[str, Any] = {
    "states": {"fuse": 0.5, "coil": 0.3, "lamp": 0.2},
    "tests": {
        "meter": {"cost": 2, "group": "cabinet", "outcomes": {"fuse": "0 V", "coil": "24 V", "lamp": "24 V"}},
        "look": {"cost": 1, "group": None, "outcomes": {"fuse": 0, "coil": 0, "lamp": 1}},
    },
    "groups": {"cabinet": 5},
}


def run(*args: str) -> Result:
    return CliRunner().invoke(diag, ["grow", *args])


def grow(folder: Path, table: object, *args: str) -> Result:
    file = folder / "table.json"
    file.write_text(table if isinstance(table, str) else json.dumps(table))
    return run("--table", str(file), *args)


def changed(path: str, value: object) -> dict[str, Any]:
    """The good table with one thing different; a path is names joined by slashes."""
    table: dict[str, Any] = json.loads(json.dumps(GOOD))
    *way, last = path.split("/")
    at = table
    for name in way:
        at = at[name]
    at[last] = value
    return table


def line(result: Result, code: int) -> str:
    assert result.exit_code == code, result.output
    assert result.stdout == ""
    assert result.stderr.startswith("diag: ")
    assert result.stderr.count("\n") == 1
    assert len(result.stderr) < 400
    return result.stderr


def test_a_table_becomes_a_tree(tmp_path: Path) -> None:
    found = json.loads(grow(tmp_path, GOOD).stdout)
    assert list(found) == ["version", "expected_cost", "lower_bound", "exact", "tree"]
    assert found["exact"] is True
    assert found["expected_cost"] == found["lower_bound"] == pytest.approx(1 + 0.8 * 7)
    assert found["tree"] == {
        "test": "look",
        "outcomes": {
            "0": {"test": "meter", "outcomes": {"0 V": {"states": ["fuse"]}, "24 V": {"states": ["coil"]}}},
            "1": {"states": ["lamp"]},
        },
    }


@pytest.mark.source(
    "Pattipati and Alexandridis 1990, IEEE Trans. SMC 20:872-887: six states, five tests, optimum 2.18",
    found="matrix from memory, optimum recomputed",
)
def test_the_published_six_states_from_the_shell(tmp_path: Path) -> None:
    table = {
        "states": {f"s{s}": p for s, p in enumerate([0.70, 0.01, 0.02, 0.10, 0.05, 0.12])},
        "tests": {
            f"t{t + 1}": {"cost": 1, "group": None, "outcomes": {f"s{s}": int(row[t]) for s, row in enumerate(SIX)}}
            for t in range(5)
        },
        "groups": {},
    }
    found = json.loads(grow(tmp_path, table, "--seconds", "5").stdout)
    assert found["expected_cost"] == pytest.approx(2.18)
    assert found["exact"]


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ("", "line 1, column 1: not JSON"),
        ('{"states": {"a": 1}, "tests": {', "line 1, column 32: not JSON"),
        ("[]", "the file must be an object, not a list"),
        ("[" * 100_000, "nested too deep"),
        ('{"a":' * 100_000, "nested too deep"),
        ('{"states": {"a": NaN}, "tests": {}}', "NaN is not a number that a table can hold"),
        ('{"states": {"a": -Infinity}, "tests": {}}', "-Infinity is not a number"),
        ('{"states": {"a": 1e999}, "tests": {}}', "probability of state 'a' is inf; it must be from 0 to 1"),
        ('{"states": {"a": %s}, "tests": {}}' % ("1" * 5000), "too many digits"),
        ('{"states": {"a": %s}, "tests": {}}' % ("1" * 400), "too large a number"),
        ('{"states": {"a": 0.5, "a": 0.5}, "tests": {}}', "'a' stands twice"),
        ('{"tests": {}}', '"states" is missing'),
        ('{"states": {}, "tests": {}}', "there are no states"),
        ('{"states": {"a": 1}}', '"tests" is missing'),
        ({**GOOD, "test": {}}, "unknown entry 'test'; nearest: 'tests'"),
        (changed("states", ["fuse"]), '"states" must be an object, not a list'),
        (changed("states/fuse", "half"), "probability of state 'fuse' must be a number, not 'half'"),
        (changed("states/fuse", True), "must be a number, not true"),
        (changed("states/fuse", 0.6), "the probabilities sum to 1.1"),
        (changed("states/fuse", -0.5), "probability of state 'fuse' is -0.5"),
        (changed("tests/look/cost", -1), "test 'look' costs -1; it must be from"),
        (changed("tests/look/cost", 0), "test 'look' costs 0"),
        (changed("tests/look/cost", None), "cost of test 'look' must be a number, not null"),
        (changed("tests/look", 7), "test 'look' must be an object"),
        (changed("tests/look", {"cost": 1}), "test 'look': \"outcomes\" is missing"),
        (changed("tests/look/outcomes/fuze", 1), "unknown state in test 'look': 'fuze'; nearest: 'fuse'"),
        (changed("tests/look/outcomes", {"fuse": 1}), "test 'look' gives no outcome for state 'coil'"),
        (changed("tests/look/outcomes/fuse", [1]), "an outcome is a word or a number, not a list"),
        (changed("tests/look/outcomes/fuse", None), "an outcome is a word or a number, not null"),
        (changed("tests/look/group", "cabinte"), "unknown group in test 'look': 'cabinte'; nearest: 'cabinet'"),
        (changed("tests/look/group", 5), "a group is a name or null"),
        (changed("tests/look/price", 5), "unknown entry of test 'look': 'price'; known: cost, group, outcomes"),
        (changed("groups/cabinet", -5), "set-up of group 'cabinet' costs -5"),
        ({"states": {f"s{n}": 1 / 400 for n in range(400)}, "tests": {}}, "400 states and 0 tests; at most 300"),
        (changed("groups", {"cabinet": 5, "x" * 5000: "?"}), "must be a number"),
        (changed("states/\x1b[31m" + "x" * 5000, "?"), "must be a number"),
    ],
)
def test_a_table_that_makes_no_sense_is_one_line(table: object, says: str, tmp_path: Path) -> None:
    shown = line(grow(tmp_path, table), 1)
    assert says in shown
    assert "table.json: " in shown
    assert "\x1b" not in shown


def test_bytes_that_are_no_text_and_files_without_end(tmp_path: Path) -> None:
    file = tmp_path / "table.json"
    file.write_bytes(b'{"states": \xff')
    assert "byte 11 is not UTF-8" in line(run("--table", str(file)), 1)
    assert "larger than 32 MB" in line(run("--table", "/dev/zero"), 1)


@pytest.mark.parametrize(
    ("args", "says"),
    [
        ([], "Missing option '--table'"),
        (["--table", "/no/such/file"], "does not exist"),
        (["--table", "/tmp"], "is a directory"),
        (["--table", "/dev/null", "--seconds", "0"], "Invalid value for '--seconds'"),
        (["--table", "/dev/null", "--seconds", "nan"], "--seconds must be a number"),
        (["tray-stacker"], "Missing option '--table'"),
        (["tray-stacker", "--table", "/dev/null"], "unexpected extra argument"),
    ],
)
def test_wrong_usage(args: list[str], says: str) -> None:
    assert says in line(run(*args), 2)


def test_the_help_loads_no_numpy() -> None:
    code = "import sys; from diag.cli.group import diag\ntry: diag(['grow', '--help'])\nexcept SystemExit: pass\n"
    done = subprocess.run(
        [sys.executable, "-c", code + "print('numpy' in sys.modules)"], capture_output=True, text=True, check=True
    )
    assert done.stdout.endswith("False\n")


def test_rounded_probabilities_and_a_byte_order_mark_are_taken(tmp_path: Path) -> None:
    table = changed("states", {"fuse": 0.333, "coil": 0.333, "lamp": 0.333})
    found = json.loads(grow(tmp_path, "\ufeff" + json.dumps(table)).stdout)
    assert found["expected_cost"] == pytest.approx(1 + 2 / 3 * 7)


def test_the_deepest_tree_that_there_can_be_is_printed(tmp_path: Path) -> None:
    n = 300
    states = {f"s{k}": 1 / n for k in range(n)}
    tests = {f"t{k}": {"cost": 1, "outcomes": {s: int(s == f"s{k}") for s in states}} for k in range(n - 1)}
    result = grow(tmp_path, {"states": states, "tests": tests}, "--seconds", "1")
    assert result.exit_code == 0, result.stderr
    tree, depth = json.loads(result.stdout)["tree"], 0
    while "test" in tree:
        tree, depth = tree["outcomes"]["0"], depth + 1
    assert depth == n - 1
