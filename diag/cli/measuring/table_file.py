"""A JSON file of states and tests, read for `diag grow`. Whatever is wrong with it is one line that names the place."""

from __future__ import annotations

import json
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from diag.reason.policy.policy import BadTable, TableTest, checked

LARGEST = 32 * 1024 * 1024
"""Bytes; the largest table that can be handled is well below it."""
SHOWN = 40


@dataclass(frozen=True, slots=True)
class TableFile:
    """The arguments of `policy.solve`, with the names of the states and the tests."""

    states: tuple[str, ...]
    tests: tuple[str, ...]
    probabilities: list[float]
    columns: list[TableTest]
    setups: dict[Hashable, float]


def read(path: Path) -> TableFile:
    """Raises ClickException (exit code 1) where the file does not hold a sound table, OSError where it is not read."""
    try:
        return _table(_parsed(path))
    except BadTable as error:
        raise click.ClickException(f"{path}: {error}") from error


def _parsed(path: Path) -> Any:
    with path.open("rb") as file:
        data = file.read(LARGEST + 1)
    if len(data) > LARGEST:
        raise BadTable(f"larger than {LARGEST // 1024 // 1024} MB; no table that can be handled is")
    try:
        return json.loads(data.decode("utf-8-sig"), object_pairs_hook=_once, parse_constant=_no_number)
    except UnicodeDecodeError as error:
        raise BadTable(f"byte {error.start} is not UTF-8 text") from error
    except json.JSONDecodeError as error:
        raise BadTable(f"line {error.lineno}, column {error.colno}: not JSON: {error.msg}") from error
    except RecursionError as error:
        raise BadTable("nested too deep; a table has four levels") from error
    except BadTable:
        raise
    except ValueError as error:  # an integer of thousands of digits
        raise BadTable("a number has too many digits") from error


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise BadTable(f"{_shown(name)} stands twice in one object")
        found[name] = value
    return found


def _no_number(word: str) -> float:
    raise BadTable(f"{word} is not a number that a table can hold")


def _table(whole: Any) -> TableFile:
    top = _object(whole, "the file")
    _known("entry", top, ("states", "tests", "groups"))
    if "states" not in top or "tests" not in top:
        raise BadTable(f'"{"tests" if "states" in top else "states"}" is missing')
    states = _object(top["states"], '"states"')
    tests = _object(top["tests"], '"tests"')
    groups = _object(top.get("groups") or {}, '"groups"')
    probabilities = [_number(p, f"the probability of state {_shown(s)}") for s, p in states.items()]
    setups: dict[Hashable, float] = {g: _number(c, f"the set-up of group {_shown(g)}") for g, c in groups.items()}
    columns = [_column(name, test, states, groups) for name, test in tests.items()]
    names, called = tuple(states), tuple(tests)
    checked(probabilities, columns, setups, lambda s: _shown(names[s]), lambda t: _shown(called[t]))
    return TableFile(names, called, probabilities, columns, setups)


def _column(name: str, written: Any, states: Mapping[str, Any], groups: Mapping[str, Any]) -> TableTest:
    where = f"test {_shown(name)}"
    test = _object(written, where)
    _known(f"entry of {where}:", test, ("cost", "group", "outcomes"))
    if "cost" not in test or "outcomes" not in test:
        raise BadTable(f'{where}: "{"outcomes" if "cost" in test else "cost"}" is missing')
    group = test.get("group")
    if group is not None:
        if not isinstance(group, str):
            raise BadTable(f"{where}: a group is a name or null, not {_shown(group)}")
        _known(f"group in {where}:", [group], groups)
    outcomes = _object(test["outcomes"], f'"outcomes" of {where}')
    _known(f"state in {where}:", outcomes, states)
    missing = next((s for s in states if s not in outcomes), None)
    if missing is not None:
        raise BadTable(f"{where} gives no outcome for state {_shown(missing)}")
    return TableTest(
        cost=_number(test["cost"], f"the cost of {where}"),
        outcomes=[_label(outcomes[s], where) for s in states],
        group=group,
    )


def _known(what: str, words: Iterable[str], right: Iterable[str]) -> None:
    right = tuple(right)
    wrong = next((word for word in words if word not in right), None)
    if wrong is not None:
        # Only a mistake pays for this import.
        from diag.machine.names import unknown

        raise BadTable(unknown(what, wrong, right)[0])


def _object(value: Any, what: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise BadTable(f"{what} must be an object, not {_shown(value)}")
    return value


def _number(value: Any, what: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadTable(f"{what} must be a number, not {_shown(value)}")
    try:
        return float(value)
    except OverflowError:
        raise BadTable(f"{what} is too large a number") from None


def _label(value: Any, where: str) -> str:
    """Outcomes are compared by their text, as they stand as names in the answer."""
    if isinstance(value, str):
        return value
    if isinstance(value, int | float):
        return json.dumps(value)
    raise BadTable(f"{where}: an outcome is a word or a number, not {_shown(value)}")


def _shown(value: Any) -> str:
    """A value as the file has it, cut to a length that a line can hold; never gone into."""
    if isinstance(value, dict | list):
        return "an object" if isinstance(value, dict) else "a list"
    if isinstance(value, str):
        return repr(value if len(value) <= SHOWN else value[:SHOWN] + "...")
    return json.dumps(value) if value is None or isinstance(value, bool | float) else "a number"
