"""The parser tells only by its words what it complains of: each word that is looked for is one that it says today."""

from __future__ import annotations

import pytest
import yaml

from diag.machine.repair.syntax import COMPLAINTS, kind_of_complaint

FAST, PLAIN = "the fast parser", "the parser in Python"
PARSERS = {FAST: getattr(yaml, "CSafeLoader", None), PLAIN: yaml.SafeLoader}
SAYS = [
    ("expected ':'", "a: 1\nb\nc: 2\n", FAST, PLAIN),
    ("expected ':'", "a: [b:]\n", FAST),
    ("expected ',' or", "a: [b: 1 c: 2]\n", FAST, PLAIN),
    ("expected ',' or", "a: {b: 1 c: 2}\n", FAST, PLAIN),
    ("mapping values are not allowed", "a: b: c\n", FAST, PLAIN),
    ("expected key", "a:\n  b: 1\n c: 2\n", FAST),
    ("expected <block end>", "a:\n  b: 1\n c: 2\n", PLAIN),
    ("<document start>", "  a: 1\nb: 2\n", FAST, PLAIN),
    ("found a tab character", "a:\n  b\n\tc: 2\n", FAST),
    ("cannot start any token", "a: @b\n", FAST, PLAIN),
    ("node content", "a: [,]\n", FAST, PLAIN),
    ("sequence entries are not allowed", "a: - b\n", FAST, PLAIN),
    ("expected '-' indicator", "- a\nb: 1\n", FAST),
    ("scanning a block scalar", "a: |x\n  b\n", FAST, PLAIN),
    ("scanning a block scalar", "a: |0\n  b\n", FAST, PLAIN),
    ("nesting depth", "[" * 10_001, FAST),
    ("parsing a quoted scalar", 'a: "\\q"\n', FAST),
    ("parsing a quoted scalar", 'a: "\\xgg"\n', FAST),
    ("double-quoted scalar", 'a: "\\q"\n', PLAIN),
    ("unexpected document", 'a: "b\n--- c"\n', FAST, PLAIN),
    ("directive", "%YAML x\n---\na\n", FAST, PLAIN),
    ("undefined tag handle", "a: !x!y z\n", FAST, PLAIN),
    ("ing a tag", "a: !<x\n", FAST, PLAIN),
    ("scanning an alias", "a: * b\n", FAST, PLAIN),
    ("scanning an anchor", "a: & b\n", FAST, PLAIN),
    ("mapping keys are not allowed", "a: ? b\n", FAST, PLAIN),
]


@pytest.mark.parametrize(
    ("words", "text", "parser"), [(words, text, parser) for words, text, *says in SAYS for parser in says]
)
def test_the_parser_complains_in_these_words(words: str, text: str, parser: str) -> None:
    loader = PARSERS[parser]
    if loader is None:
        pytest.skip("PyYAML was built without its fast parser")
    with pytest.raises(yaml.YAMLError) as raised:
        list(yaml.parse(text, loader))
    assert kind_of_complaint(raised.value) == words


def test_every_kind_of_complaint_is_shown_above() -> None:
    assert {words for words, *_ in SAYS} == set(COMPLAINTS)
