"""Every rule is told with its reason and two examples: the bad one gives it, and the good one does not."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from vet.laid import lay

from diag.vet import rules, vet_machine
from diag.vet.rules import catalogue, reader_rules
from diag.vet.rules.catalogue import EVERY, named
from diag.vet.vetted.rule import Finding, Vetted, rule, rules_of

BAD = Path(__file__).parents[1] / "bad"
NAMES = [rule.name for rule in EVERY]


@pytest.mark.parametrize("name", NAMES)
def test_the_bad_example_breaks_the_rule_and_the_good_one_keeps_it(name: str, tmp_path: Path) -> None:
    rule = named(name)
    bad = vet_machine(lay(tmp_path / "bad", rule.bad))
    assert [p.level for p in bad if p.rule == name][:1] == [rule.level], [str(p) for p in bad]
    good = vet_machine(lay(tmp_path / "good", rule.good))
    assert [str(p) for p in good if p.rule == name or p.level == "error"] == []


def test_every_module_of_rules_is_in_the_catalogue() -> None:
    """A rule is written once, in a module of its subject; nothing else has to be told of it."""
    folder = Path(rules.__file__).parent
    modules = {path.stem for path in folder.glob("*_rules.py")}
    assert {module.__name__.rpartition(".")[2] for module in (*catalogue.SUBJECTS, reader_rules)} == modules
    written = sum(path.read_text().count("\n@rule(\n") for path in folder.glob("*_rules.py"))
    assert len(catalogue.SENSE) == written > 40


def test_a_rule_enters_the_catalogue_by_standing_there_and_no_name_twice() -> None:
    def find(vetted: Vetted) -> Iterator[Finding]:
        """Because."""
        yield from ()

    made = rule("never-told", "info", "Nobody sees it.", bad="a", good="b")(find)
    assert rules_of(sys.modules[__name__]) == (made,)
    with pytest.raises(ValueError, match="'ambiguous'"):
        rule("ambiguous", "info", "Nobody sees it.", bad="a", good="b")(find)


def test_names_are_words_and_there_is_one_rule_of_each() -> None:
    assert sorted(set(NAMES)) == sorted(NAMES)
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", name) for name in NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_rule_says_why_in_whole_sentences(name: str) -> None:
    texts = dict(named(name).sections())
    assert len(texts) == 4
    why, because = list(texts.values())[:2]
    for text in (why, because):
        assert len(text) > 20
        assert text[0].isupper()
        assert text.endswith(".")
    assert texts["this breaks it"] != texts["this keeps it"]


def test_every_rule_that_a_bad_file_shows_is_explained() -> None:
    told = "".join(path.read_text() for path in BAD.glob("*/expected.txt"))
    assert set(re.findall(r"\(([a-z-]+)\)$", told, re.MULTILINE)) <= set(NAMES)


def test_a_level_is_the_same_for_all_findings_of_a_rule() -> None:
    told = "".join(path.read_text() for path in BAD.glob("*/expected.txt"))
    for level, name in set(re.findall(r": (error|warning|info): .*\(([a-z-]+)\)$", told, re.MULTILINE)):
        assert level == named(name).level, name


def test_fifty_faulty_machines() -> None:
    assert len([file for file in BAD.glob("*/expected.txt") if file.read_text().strip()]) >= 50
