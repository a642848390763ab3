"""Problems as SARIF, against the structure that the standard publishes.

The schema's facts that concern what is written here are put down by hand: which properties each object may have
(`additionalProperties` is false for all of them), which it must have, their types, their words and their least values.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from diag.machine.problem import Problem
from diag.vet import vet_machine
from diag.vet.report.sarif import log
from diag.vet.rules.catalogue import EVERY

BAD = Path(__file__).parents[1] / "bad"
LEVEL = {"none", "note", "warning", "error"}
TEXT, INT, BOOL = str, int, bool

MESSAGE = {"text": TEXT, "markdown": TEXT, "id": TEXT, "arguments": [TEXT]}
STRING = {"!": {"text"}, "text": TEXT, "markdown": TEXT}
"""multiformatMessageString"""
REGION = {
    "!": {"startLine"},
    "startLine": 1,
    "startColumn": 1,
    "endLine": 1,
    "endColumn": 1,
}
"""A number is the least that is allowed. One of startLine, charOffset and byteOffset is wanted; here the first."""
LOCATION = {
    "physicalLocation": {"artifactLocation": {"uri": TEXT, "uriBaseId": TEXT, "index": -1}, "region": REGION},
    "message": MESSAGE,
}
DESCRIPTOR = {
    "!": {"id"},
    "id": TEXT,
    "name": TEXT,
    "shortDescription": STRING,
    "fullDescription": STRING,
    "help": STRING,
    "helpUri": TEXT,
    "defaultConfiguration": {"enabled": BOOL, "level": LEVEL},
}
RESULT = {
    "!": {"message"},
    "ruleId": TEXT,
    "ruleIndex": -1,
    "kind": {"notApplicable", "pass", "fail", "review", "open", "informational"},
    "level": LEVEL,
    "message": MESSAGE,
    "locations": [LOCATION],
}
LOG = {
    "!": {"version", "runs"},
    "$schema": TEXT,
    "version": {"2.1.0"},
    "runs": [
        {
            "!": {"tool"},
            "tool": {"!": {"driver"}, "driver": {"!": {"name"}, "name": TEXT, "version": TEXT, "rules": [DESCRIPTOR]}},
            "columnKind": {"utf16CodeUnits", "unicodeCodePoints"},
            "results": [RESULT],
        }
    ],
}
SOURCE = "OASIS SARIF 2.1.0, sarif-schema-2.1.0.json"


def doubts(value: Any, shape: Any, at: str = "log") -> list[str]:
    """Where a value is not of a shape."""
    if isinstance(shape, dict):
        if not isinstance(value, dict):
            return [f"{at}: no object"]
        missing = [f"{at}: no {key}" for key in shape.get("!", ()) if key not in value]
        odd = [f"{at}: {key} is not allowed" for key in value if key not in shape]
        return missing + odd + [d for k, v in value.items() if k in shape for d in doubts(v, shape[k], f"{at}.{k}")]
    if isinstance(shape, list):
        if not isinstance(value, list):
            return [f"{at}: no array"]
        return [d for n, v in enumerate(value) for d in doubts(v, shape[0], f"{at}[{n}]")]
    if isinstance(shape, set):
        return [] if value in shape else [f"{at}: {value!r}"]
    if isinstance(shape, int) and not isinstance(shape, type):
        return [] if isinstance(value, int) and value >= shape else [f"{at}: {value!r}"]
    return [] if isinstance(value, shape) else [f"{at}: {value!r}"]


@pytest.fixture(scope="module")
def problems() -> tuple[Problem, ...]:
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(BAD)
        return tuple(p for folder in sorted(BAD.iterdir()) for p in vet_machine(Path(folder.name)))


@pytest.fixture(scope="module")
def whole(problems: tuple[Problem, ...]) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(json.dumps(log(problems, EVERY)))
    return read


@pytest.mark.source(
    SOURCE,
    found="run, result, reportingDescriptor, reportingConfiguration and region read in the "
    "published schema; the rest from memory",
)
def test_the_log_of_all_bad_files_is_of_the_published_shape(whole: dict[str, Any]) -> None:
    assert doubts(whole, LOG) == []


def test_the_shape_tells_what_is_wrong(whole: dict[str, Any]) -> None:
    broken = json.loads(json.dumps(whole))
    run = broken["runs"][0]
    run["results"][0]["level"] = "info"
    run["results"][1]["locations"][0]["physicalLocation"]["region"]["startColumn"] = 0
    del run["results"][2]["message"]
    run["tool"]["driver"]["rules"][0]["why"] = "x"
    assert len(doubts(broken, LOG)) == 4


def test_each_problem_is_a_result_with_its_rule_level_and_region(
    whole: dict[str, Any], problems: tuple[Problem, ...]
) -> None:
    run = whole["runs"][0]
    rules = run["tool"]["driver"]["rules"]
    assert [rule["id"] for rule in rules] == [rule.name for rule in EVERY]
    assert len(run["results"]) == len(problems) > 100
    for result, problem in zip(run["results"], problems, strict=True):
        place = result["locations"][0]["physicalLocation"]
        assert result["ruleId"] == problem.rule == rules[result["ruleIndex"]]["id"]
        assert result["level"] == {"error": "error", "warning": "warning", "info": "note"}[problem.level]
        assert place["region"] == {"startLine": problem.line, "startColumn": problem.column}
        assert result["message"]["text"] == problem.text


@pytest.mark.source("RFC 3986, 2.1 and 4.2", found="from memory")
@pytest.mark.parametrize(
    ("file", "uri"),
    [
        ("a b/machine.yaml", "a%20b/machine.yaml"),
        ("c:d/m.yaml", "c%3Ad/m.yaml"),
        ("mehl\u00e4/50%.yaml", "mehl%C3%A4/50%25.yaml"),
        ("/srv/a b/m.yaml", "file:///srv/a%20b/m.yaml"),
    ],
)
def test_files_are_named_by_uri(file: str, uri: str) -> None:
    made = log([Problem(file, 1, 1, "error", "x", "kind")], EVERY)
    assert made["runs"][0]["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == uri


def test_a_rule_that_nobody_explained_has_an_id_alone() -> None:
    (result,) = log([Problem("f", 1, 1, "info", "x", "of-tomorrow")], EVERY)["runs"][0]["results"]
    assert result["ruleId"] == "of-tomorrow"
    assert "ruleIndex" not in result
