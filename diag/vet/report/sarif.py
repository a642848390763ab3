"""Problems as SARIF 2.1.0 (OASIS standard, Static Analysis Results Interchange Format), for editors and code hosts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from diag.machine.problem import Level, Problem
from diag.text import clean
from diag.vet.vetted.rule import Rule

SCHEMA: Final = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
LEVELS: Final[Mapping[Level, str]] = {"error": "error", "warning": "warning", "info": "note"}


def log(problems: Iterable[Problem], rules: Iterable[Rule]) -> dict[str, Any]:
    """The whole log, ready for JSON: one run of this program. A rule that is not among `rules` has only its id."""
    known = {rule.name: rule for rule in rules}
    index = {name: n for n, name in enumerate(known)}
    return {
        "$schema": SCHEMA,
        "version": "2.1.0",
        "runs": [
            {
                "tool": {
                    "driver": {
                        "name": "diag vet",
                        "rules": [_descriptor(rule) for rule in known.values()],
                    }
                },
                "columnKind": "unicodeCodePoints",
                "results": [_result(problem, index) for problem in problems],
            }
        ],
    }


def _descriptor(rule: Rule) -> dict[str, Any]:
    return {
        "id": rule.name,
        "shortDescription": {"text": _first(rule.why)},
        "fullDescription": {"text": rule.why},
        "defaultConfiguration": {"level": LEVELS[rule.level]},
        "help": {"text": f"{rule.why}\n\nThis breaks it:\n\n{rule.bad}\n\nThis keeps it:\n\n{rule.good}"},
    }


def _first(text: str) -> str:
    """The first sentence."""
    head, stop, _ = text.partition(". ")
    return f"{head}." if stop else text


def _result(problem: Problem, index: Mapping[str, int]) -> dict[str, Any]:
    found: dict[str, Any] = {"ruleId": problem.rule}
    if problem.rule in index:
        found["ruleIndex"] = index[problem.rule]
    return {
        **found,
        "level": LEVELS[problem.level],
        "message": {"text": clean(problem.text)},
        "locations": [
            {
                "physicalLocation": {
                    "artifactLocation": {"uri": _uri(problem.file)},
                    "region": {"startLine": problem.line, "startColumn": problem.column},
                }
            }
        ],
    }


def _uri(file: str) -> str:
    """A relative path stays one (RFC 3986, 4.2); a whole one becomes a file's URI."""
    if Path(file).is_absolute():
        return Path(file).as_uri()
    first, slash, rest = file.partition("/")
    # A colon in the first part would read as a scheme.
    return quote(first, safe="") + slash + quote(rest)
