"""Every rule is told with its reason and two examples: the bad one gives it, and the good one does not."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from vet.laid import lay

from diag.vet.explain import ALL, named, sections
from diag.vet.sense import vet_machine

BAD = Path(__file__).parents[1] / "bad"
NAMES = [rule.name for rule in ALL]


@pytest.mark.parametrize("name", NAMES)
def test_the_bad_example_breaks_the_rule_and_the_good_one_keeps_it(name: str, tmp_path: Path) -> None:
    rule = named(name)
    bad = vet_machine(lay(tmp_path / "bad", rule.bad))
    assert [p.level for p in bad if p.rule == name][:1] == [rule.level], [str(p) for p in bad]
    good = vet_machine(lay(tmp_path / "good", rule.good))
    assert [str(p) for p in good if p.rule == name or p.level == "error"] == []


def test_names_are_words_and_there_is_one_rule_of_each() -> None:
    assert sorted(set(NAMES)) == sorted(NAMES)
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", name) for name in NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_rule_says_why_in_whole_sentences(name: str) -> None:
    texts = dict(sections(named(name)))
    assert len(texts) == 4
    why, because = list(texts.values())[:2]
    for text in (why, because):
        assert len(text) > 20
        assert text[0].isupper()
        assert text.endswith(".")
    assert texts["not so"] != texts["but so"]


def test_every_rule_that_a_bad_file_shows_is_explained() -> None:
    told = "".join(path.read_text() for path in BAD.glob("*/expected.txt"))
    assert set(re.findall(r"\(([a-z-]+)\)$", told, re.MULTILINE)) <= set(NAMES)


def test_a_level_is_the_same_for_all_findings_of_a_rule() -> None:
    told = "".join(path.read_text() for path in BAD.glob("*/expected.txt"))
    for level, name in set(re.findall(r": (error|warning|info): .*\(([a-z-]+)\)$", told, re.MULTILINE)):
        assert level == named(name).level, name


def test_fifty_faulty_machines() -> None:
    assert len([file for file in BAD.glob("*/expected.txt") if file.read_text().strip()]) >= 50
