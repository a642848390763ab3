"""The JSON Schema and the loader say the same of every file."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any, Final

import pytest
from jsonschema import Draft7Validator, Draft202012Validator, ValidationError
from typed import scalar, typed

from diag.machine.language.fields.panel_fields import KINDS
from diag.machine.language.fields.sections import FILE_HELP, FILES, FOLDERS, LISTS, MAPS, SECTION_HELP
from diag.machine.language.fields.tree_fields import NODES
from diag.machine.language.schema import SECTIONS, schema
from diag.machine.language.shapes import models
from diag.machine.load import load
from diag.machine.problem import Problem
from diag.machine.reader.compose import compose
from diag.machine.span import Node

ROOT = Path(__file__).resolve().parents[2]
FORM = {"field", "kind", "missing", "word", "name", "chance", "often", "tree"}
"""Rules of form: what a schema has to see too. `tree`: a node that is none, or two at once."""

NOT_IN_A_SCHEMA = {
    "is not a day of the calendar": "a pattern does not know how long a month is",
    "'indications' is missing": "any of a machine's files may hold them, and a schema sees one file",
    "'causes' is missing": "any of a machine's files may hold them, and a schema sees one file",
    "is a group; one indication is wanted here": "what a name stands for is written somewhere else",
    "is the outcome of a reset; a check cannot give it": "what a name stands for is written somewhere else",
}
"""Problems of form that no schema can see, by their text, and why."""
SHARED = ("cause", "point", "check", "cable", "station", "lamp", "power")
"""Fields of a chain that are laid into the entries which it makes."""
NOT_IN_AN_EDITOR = {
    "null": "no word at all to an editor, and the loader's word; so is a field that is left empty, which is refused",
    "0x10": "a number in another spelling: an editor hands on its value alone",
    "007": "a number in another spelling: an editor hands on its value alone",
    "1e3": "a number in another spelling: an editor hands on its value alone",
}
"""Words that an editor and the loader read differently, so that the one takes what the other refuses."""

RUNS: Final = 500
MACHINES = [
    path.parent
    for folder in ("knowledge", "tests/machines", "tests/kinds", "tests/bad", "tests/ahead")
    for path in sorted((ROOT / folder).glob("*/machine.yaml"))
]


@pytest.fixture(scope="module")
def validators() -> dict[str, Draft202012Validator]:
    found = {}
    for name in SECTIONS:
        made = schema(name)
        Draft202012Validator.check_schema(made)
        Draft7Validator.check_schema(made)
        found[name] = Draft202012Validator(made)
    return found


def yaml_files(folder: Path) -> Iterator[tuple[str, Path]]:
    """The files that a machine is read from, each with the name of its schema."""
    for name in FILES:
        if (folder / name).exists():
            yield name.removesuffix(".yaml"), folder / name
    for name in FOLDERS:
        yield from ((name, path) for path in sorted((folder / name).glob("*.yaml")))


def at(root: Node, problem: Problem) -> tuple[str, Node]:
    """The entry that a problem lies in, as `section/name`, `section/3` or a field; and the word at its place.

    What a file lacks or has too much of as a whole lies in no entry: the empty name.
    """
    parts, best = path_to(root, problem)
    if len(parts) == 1 and problem.rule in ("missing", "field", "tree"):
        parts = ()
    return "/".join(parts[:2]), best


def filled_elsewhere(root: Node, problem: Problem) -> bool:
    """Whether it lies in what a module or a chain is given for entries that are written out from it: which fields
    those have stands in the module's own file, or hangs on the chain's other fields."""
    parts = path_to(root, problem)[0]
    if parts[:1] == ("uses",) and "needs it" in problem.text:
        return True
    inside = len(parts) > 3
    return inside and (parts[0], parts[2]) in {("uses", "with"), ("uses", "but"), *(("chains", f) for f in SHARED)}


def path_to(root: Node, problem: Problem) -> tuple[tuple[str, ...], Node]:
    """The keys that lead to the place of a problem, and the word there."""
    place = (problem.line, problem.column)
    parts: list[str] = []
    node, best = root, root
    while isinstance(node.value, dict | list):
        pairs = list(node.value.items() if isinstance(node.value, dict) else enumerate(node.value))
        before = [(key, child) for key, child in pairs if start(child) <= place]
        if not before:
            break
        key, node = max(before, key=lambda pair: start(pair[1]))
        parts.append(str(key))
        best = node
    return tuple(parts), best


def spelled(node: Node) -> bool:
    """Whether an editor and the loader read the word differently."""
    return isinstance(node.value, str) and node.value in NOT_IN_AN_EDITOR


def start(node: Node) -> tuple[int, int]:
    return (node.key_line, node.key_column) if node.key_line else (node.line, node.column)


def seen_at(error: ValidationError) -> str:
    """The entry that a schema's complaint lies in, named as `at` does."""
    path = list(error.absolute_path)
    if "propertyNames" in error.absolute_schema_path and len(path) == 1:
        path.append(error.instance)
    return "/".join(str(part) for part in path[:2])


def told(problem: Problem) -> bool:
    """Whether this is a problem of form that a schema has to see."""
    return problem.rule in FORM and not any(text in problem.text for text in NOT_IN_A_SCHEMA)


@pytest.mark.source("YAML 1.2.2, 10.3.2 tag resolution of the core schema", found="from memory")
@pytest.mark.parametrize(
    ("word", "value"),
    [
        *(("24", 24), ("007", 7), ("0x1F", 31), ("1e3", 1000.0), (".5", 0.5), ("-.inf", float("-inf"))),
        *(("on", "on"), ("yes", "yes"), ("12:30", "12:30"), ("1_000", "1_000"), ("0.3 V", "0.3 V")),
        *(("true", True), ("False", False), ("~", None), ("null", None), ("", None)),
    ],
)
def test_an_editor_reads_words_so(word: str, value: object) -> None:
    assert scalar(word) == value
    assert type(scalar(word)) is type(value)


@pytest.mark.parametrize("folder", MACHINES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_schema_and_loader_agree_on_every_file(folder: Path, validators: dict[str, Draft202012Validator]) -> None:
    problems = load(folder).problems
    looked_at = 0
    for name, path in yaml_files(folder):
        text = path.read_text(encoding="utf-8")
        root, broken = compose(text, str(path))
        own = [p for p in problems if (Path.cwd() / p.file).resolve() == path]
        slips = any(p.rule == "yaml" and p.level == "error" for p in broken)
        if root is None or slips:  # no YAML, or none that diag takes: an editor has no document to look at
            assert broken or own
            continue
        looked_at += 1
        errors = list(validators[name].iter_errors(typed(text)))
        form = [(p, *at(root, p)) for p in own if told(p) and not filled_elsewhere(root, p)]
        form = [(p, entry) for p, entry, node in form if not spelled(node)]
        assert bool(errors) == bool(form), (path.name, [e.message for e in errors], [str(p) for p, _ in form])
        # And not only somewhere in the file, but in the same entries of it.
        twice = {at(root, p)[0] for p in own if p.rule == "twice"}  # of these the loader reads the first alone
        assert {seen_at(error) for error in errors} - twice == {entry for _, entry in form} - twice, path
    assert looked_at or folder.parent.name == "bad"


def test_every_machine_of_the_tests_is_looked_at() -> None:
    assert len(MACHINES) >= 40
    assert {"tray-stacker", "mixer", "bench"} <= {path.name for path in MACHINES}


@pytest.mark.parametrize(
    ("section", "wrong", "second"),
    [
        ("indications", {"lamp": "red", "display": "2 characters", "codes": {}, "normal": "dark"}, "display"),
        ("indications", {"question": "Is it?", "reading": "V"}, "question"),
        ("trees", {"tree": "a", "title": "A", "do": "Look", "conclude": "b"}, "conclude"),
        ("trees", {"tree": "a", "title": "A", "call": "engineer", "look": "b", "when": {}}, "call"),
    ],
)
def test_two_kinds_in_one_are_one_complaint(
    section: str, wrong: dict[str, object], second: str, validators: dict[str, Draft202012Validator]
) -> None:
    whole = {"indications": {"both": wrong}} if section == "indications" else {"trees": [wrong]}
    (error,) = validators["panel" if section == "indications" else "trees"].iter_errors(whole)
    assert list(error.absolute_path) == [section, 0 if section == "trees" else "both"]
    assert error.schema is False
    assert error.instance == wrong[second]


@pytest.mark.parametrize("wrong", [{"where": "front"}, {}, "lamp", None, ["lamp"]])
def test_no_kind_is_one_complaint(wrong: object, validators: dict[str, Draft202012Validator]) -> None:
    assert len(list(validators["panel"].iter_errors({"indications": {"neither": wrong}}))) == 1
    assert len(list(validators["trees"].iter_errors({"trees": [wrong]}))) == 1


@pytest.mark.parametrize(
    ("field", "value", "fine"),
    [
        ("title", 24, True),
        ("title", "24", True),
        ("title", True, True),
        ("title", None, False),
        ("title", " ", False),
        ("title", ["a"], False),
        ("often", "3 a year", True),
        ("often", "0 a year", False),
        ("often", 3, False),
        ("by-design", True, True),
        ("by-design", "true", True),
        ("by-design", "yes", False),
        ("intermittent", 0.99, True),
        ("intermittent", "0.99", True),
        ("intermittent", 1, False),
        ("intermittent", "1.0", False),
        ("intermittent", "usually", True),
        ("shows", {"lamp": "on"}, True),
        ("shows", {"lamp": {"on": "usually", "off": 0.1}}, True),
        ("shows", {"lamp": {"on": "mostly"}}, False),
        ("shows", {"lamp": {}}, False),
        ("remedy", "shared", True),
        ("remedy", {"do": "Wait", "minutes": "2.5", "access": "outside"}, True),
        ("remedy", {"do": "Wait", "minutes": -1, "access": "outside"}, False),
        ("remedy", [], False),
        ("proof", {"lamp": ["lit", "dim"]}, True),
        ("proof", {}, False),
        ("comes", "intermittent", True),
        ("comes", "often", False),
    ],
)
def test_words_may_look_like_numbers_and_numbers_like_words(
    field: str, value: object, fine: bool, validators: dict[str, Draft202012Validator]
) -> None:
    cause = {"title": "A", "part": "b", "often": "rare", field: value}
    assert validators["causes"].is_valid({"causes": {"one": cause}}) is fine


def test_every_field_section_and_file_has_its_help() -> None:
    texts = [*FILE_HELP.values(), *SECTION_HELP.values()]
    for model in models():
        texts.append(" ".join((model.__doc__ or "").split()))
        texts += [field.description or "" for field in model.model_fields.values()]
    assert set(SECTION_HELP) == {*MAPS, *LISTS}
    assert {name.removesuffix(".yaml") for name in FILE_HELP} == set(SECTIONS)
    assert max(map(len, texts)) <= 130
    assert all(text[-1:] in tuple(".:?") for text in texts), [text for text in texts if text[-1:] not in tuple(".:?")]


def test_every_description_reaches_the_schema() -> None:
    defs = schema()["$defs"]
    for name in (
        "machine",
        "panel",
        "lamp",
        "reading",
        "cause",
        "remedy",
        "check",
        "look",
        "tree-look",
        "example",
        "zone",
    ):
        assert defs[name]["description"]
        for field, made in defs[name]["properties"].items():
            assert made["description"], (name, field)
    assert set(KINDS) <= set(defs)
    assert set(NODES) | {"call-node"} <= set(defs) | {"call"}


def test_each_section_holds_all_that_it_refers_to_and_no_more() -> None:
    for name in SECTIONS:
        made = schema(name)
        referred = set(re.findall(r'"#/\$defs/([a-z-]+)"', json.dumps(made)))
        assert referred == set(made["$defs"])


# ---------------------------------------------------------------- machines with one thing wrong


JUNK: tuple[Any, ...] = (
    *("", " ", "a b", "dark", "true", "12", "always", "outside", "2 characters", "1 character", "common", "3 a year"),
    *(True, False, 0, 1, 7, -1, 0.5, 1.5, 10**12),
    *([], {}, ["dark"], ["a", "b"], [[]], {"all": "x"}, {"dark": "always"}, {"lamp": "red", "display": "1 character"}),
)
KEYS = ("x", "two words", "all", "unlisted", "title", "lamp", "display", "question", "when", "usual", "nominal", "side")


def spoilt(whole: Any, chance: random.Random) -> Any:
    """A copy with one or two things changed: a value replaced, a field left out, added, or renamed."""
    made = deepcopy(whole)
    for _ in range(chance.choice((1, 1, 2))):
        node, above, key = made, None, None
        while isinstance(node, dict | list) and node and (above is None or chance.random() < 0.8):
            above, key = node, chance.choice(list(node) if isinstance(node, dict) else range(len(node)))
            node = node[key]
        what = chance.choice(("value", "value", "gone", "new", "renamed"))
        if above is None:
            continue
        if what == "value" or (isinstance(above, list) and what != "gone"):
            above[key] = deepcopy(chance.choice(JUNK))
        elif what == "gone":
            del above[key]
        elif what == "new":
            above[chance.choice(KEYS)] = deepcopy(chance.choice(JUNK))
        else:
            above[chance.choice(KEYS)] = above.pop(key)
    return made


def test_schema_and_loader_agree_on_spoilt_machines(
    tmp_path: Path, validators: dict[str, Draft202012Validator], record_property: Any
) -> None:
    chance = random.Random(20261125)
    wholes = [typed((ROOT / "tests" / name / "machine.yaml").read_text()) for name in ("machines/mixer", "kinds/bench")]
    file = tmp_path / "machine.yaml"
    refused = 0
    for _ in range(RUNS):
        text = json.dumps(spoilt(chance.choice(wholes), chance))
        file.write_text(text)
        form = [problem for problem in load(tmp_path).problems if told(problem)]
        errors = list(validators["machine"].iter_errors(typed(text)))
        assert bool(form) == bool(errors), (text, [str(p) for p in form], [(e.json_path, e.message) for e in errors])
        refused += bool(form)
    assert RUNS // 3 < refused < RUNS
    record_property("figure", f"schema and loader agree on {RUNS} spoilt machines, {refused} of them wrong in form")
