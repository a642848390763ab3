"""The approval of a file, and the digest by which an approval knows what was approved."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from finish import finish
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diag.machine.approval.approval import Approval
from diag.machine.approval.digest import content, digest
from diag.machine.find import listing
from diag.machine.load import approval_of, load
from diag.machine.reader.gather import Folder
from diag.machine.span import Node

ROOT = Path(__file__).resolve().parents[2]

TINY = """\
format: 1
title: Fan 2
place: Dry store
approval: draft
indications: {air: {question: Does air come out?, usual: {"yes": 9, "no": 1}}}
causes:
  stopped: {title: Stopped, part: desk, often: common, shows: {air: "no"}}
"""


def of(folder: Path) -> str:
    loaded = load(folder)
    assert loaded.machine is not None, loaded.problems
    return digest(loaded.written)


def written(folder: Path, text: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "machine.yaml").write_text(text, encoding="utf-8")
    return folder


# ---------------------------------------------------------------- the digest


@pytest.mark.source("FIPS 180-4 SHA-256, RFC 8259 JSON", found="the words put together by hand, summed by hashlib")
def test_it_is_the_sum_of_these_words(tmp_path: Path) -> None:
    said = (
        '[[["format","1"],["place","Dry store"],["title","Fan 2"]],'
        '[["indications",[["air",{"question":"Does air come out?","usual":{"yes":"9","no":"1"}}]]],'
        '["causes",[["stopped",{"title":"Stopped","part":"desk","often":"common","shows":{"air":"no"}}]]]],""]'
    )
    assert of(written(tmp_path / "fan", TINY)) == hashlib.sha256(said.encode()).hexdigest()[:16] == "292f438e51f353a2"


def leaves(found: Folder) -> Iterator[tuple[str, Node]]:
    """Every word that counts, with where it stands."""
    assert found.head is not None
    assert isinstance(found.head.node.value, dict)
    roots = [(name, node) for name, node in found.head.node.value.items() if name not in ("approval", *found.maps)]
    roots = [(name, node) for name, node in roots if name not in found.lists]
    roots += [(f"{name}/{id}", item.node) for name, items in found.maps.items() for id, item in items.items()]
    roots += [(f"{name}/{item.id}", item.node) for name in ("dangers", "trees") for item in found.lists[name]]
    waiting = roots
    while waiting:
        name, node = waiting.pop()
        if isinstance(node.value, str):
            yield name, node
        elif isinstance(node.value, dict):
            waiting += [(f"{name}/{key}", child) for key, child in node.value.items()]
        else:
            waiting += [(f"{name}/{n}", child) for n, child in enumerate(node.value)]


@pytest.mark.parametrize("folder", ["tests/machines/mixer", "tests/modules/two-supplies", "tests/modules/guarded"])
def test_every_word_counts(folder: str) -> None:
    """No word of a file, of a module or of a chain, can become another without the digest telling."""
    found = load(ROOT / folder).written
    before, count = digest(found), 0
    for name, node in leaves(found):
        word = node.value
        assert isinstance(word, str)
        node.value = f"{word}x"
        assert digest(found) != before, name
        node.value = word
        count += 1
    assert digest(found) == before
    assert count > 200


def test_every_entry_counts_and_so_does_its_place(mixer_folder: Path) -> None:
    found = load(mixer_folder).written
    before = digest(found)
    for items in found.maps.values():
        for id in list(items):
            kept = dict(items)
            del items[id]
            assert digest(found) != before
            items[id] = kept[id]
            assert (digest(found) == before) == (list(items) == list(kept))
            items.clear()
            items.update(kept)
    assert digest(found) == before


EDITS = {
    "a title": ("title: Dough mixer 4", "title: Dough mixer 5"),
    "a hazard": ("400 V a.c. in the control box", "230 V a.c. in the control box"),
    "the revision": ("revision: 2026-11-20", "revision: 2026-11-21"),
    "whom to call": ("radio channel 3", "radio channel 4"),
    "a wait": ("wait: 1}", "wait: 2}"),
    "a point that is foreign": (", foreign: true}", "}"),
    "a limit": ('good: "360 .. 440", high: "> 440"', 'good: "360 .. 450", high: "> 450"'),
    "the tree to start with": ("start: first-look", "start: drive"),
}


@pytest.mark.parametrize("what", EDITS)
def test_an_edit_changes_it(what: str, mixer_folder: Path, tmp_path: Path) -> None:
    text = (mixer_folder / "machine.yaml").read_text()
    old, new = EDITS[what]
    assert text.count(old) == 1
    found = load(written(tmp_path / "a", text.replace(old, new)))
    assert digest(found.written) != of(mixer_folder)


def test_what_does_not_count(mixer_folder: Path, tmp_path: Path) -> None:
    """Approval, examples, line ends, a byte order mark, quotes, the folder's name, the order of header fields."""
    text = (mixer_folder / "machine.yaml").read_text()
    before = of(mixer_folder)
    head, examples = text[: text.index("\nexamples:")], text[text.index("\nexamples:") :]
    assert "approval: draft\n" in head
    for n, same in enumerate(
        (
            text.replace("approval: draft", "approval: trial"),
            text.replace("approval: draft\n", ""),
            head + "\n",
            head + examples.replace("tried: reset twice", "tried: reset once"),
            "\ufeff" + text.replace("\n", "\r\n"),
            text.replace("title: Dough mixer 4", "title: 'Dough mixer 4'   # here"),
            "place: Dough room\n" + text.replace("place: Dough room\n", ""),
        )
    ):
        assert same != text
        assert of(written(tmp_path / f"named-{n}", same)) == before


def test_an_anchor_counts_as_what_it_stands_for(tmp_path: Path) -> None:
    long = TINY.replace('shows: {air: "no"}', 'shows: {air: {"no": always}}, proof: {air: "yes"}')
    short = long.replace('proof: {air: "yes"}', "proof: {air: *fine}").replace('"yes": 9', '&fine "yes": 9')
    assert of(written(tmp_path / "a", long)) == of(written(tmp_path / "b", short))


def test_in_which_file_an_entry_stands_does_not_count(tmp_path: Path) -> None:
    whole = written(tmp_path / "whole", TINY)
    split = tmp_path / "split"
    head, _, rest = TINY.partition("indications:")
    panel, _, causes = rest.partition("causes:")
    written(split, head)
    (split / "panel.yaml").write_text("indications:" + panel)
    (split / "causes.yaml").write_text("causes:" + causes)
    assert of(whole) == of(split)


def test_the_name_of_a_trees_file_counts_only_where_it_says_which_comes_first(tmp_path: Path) -> None:
    tree = "tree: {0}\ntitle: T\nlook: air\nwhen: {{'yes': {{call: engineer}}, 'no': {{conclude: stopped}}}}\n"
    found = []
    for n, (start, names) in enumerate(
        (("start: a\n", "12"), ("start: a\n", "21"), ("", "12"), ("", "21")),
    ):
        folder = written(tmp_path / str(n), TINY + start)
        (folder / "trees").mkdir()
        for name, file in zip("ab", names, strict=True):
            (folder / "trees" / f"{file}.yaml").write_text(tree.format(name))
        found.append(of(folder))
    assert found[0] == found[1]
    assert len(set(found[1:])) == 3


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_remarks_and_blank_lines_do_not_count(data: st.DataObject, tmp_path: Path) -> None:
    """Put in anywhere between two lines of any file; the skeleton has every kind of file and no text over lines."""
    source = ROOT / "diag" / "write" / "skeleton_machine"
    folder = tmp_path / "same"
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(source, folder)
    finish(folder)
    before = of(folder)
    for path in sorted(folder.rglob("*.yaml")):
        lines = path.read_text().splitlines(keepends=True)
        for _ in range(data.draw(st.integers(0, 4))):
            at = data.draw(st.integers(0, len(lines)))
            remark = data.draw(st.sampled_from(["\n", "   \n", "# approval: {approved}\n", "      # indented: more\n"]))
            lines.insert(at, remark)
        path.write_text("".join(lines))
    assert of(folder) == before


def test_a_module_counts_where_it_is_used_and_nowhere_else(tmp_path: Path) -> None:
    for name in ("two-supplies", "two-motors"):
        shutil.copytree(ROOT / "tests" / "modules" / name, tmp_path / name)
    shutil.copytree(ROOT / "knowledge" / "modules", tmp_path / "modules")
    before = {name: of(tmp_path / name) for name in ("two-supplies", "two-motors")}
    assert before["two-supplies"] == of(ROOT / "tests" / "modules" / "two-supplies")
    module = tmp_path / "modules" / "dc-supply.yaml"
    text = module.read_text()
    assert "minutes: " in text
    module.write_text("# only a remark\n" + text)
    assert of(tmp_path / "two-supplies") == before["two-supplies"]
    first = text.index("title: ", text.index("\ncauses:")) + len("title: ")
    module.write_text(f"{text[:first]}New {text[first:]}")
    assert of(tmp_path / "two-supplies") != before["two-supplies"]
    assert of(tmp_path / "two-motors") == before["two-motors"]


def test_it_is_the_same_in_another_process_with_other_hashes_and_locale(mixer_folder: Path) -> None:
    code = "import sys; from diag.machine.load import load; from diag.machine.approval.digest import digest; "
    code += "from pathlib import"
    code += " Path; print(digest(load(Path(sys.argv[1])).written))"
    found = {
        subprocess.run(
            [sys.executable, "-c", code, str(mixer_folder)],
            check=True,
            capture_output=True,
            text=True,
            cwd="/",
            env={"PYTHONPATH": str(ROOT), "PYTHONHASHSEED": seed, "LC_ALL": locale, "PATH": os.environ["PATH"]},
        ).stdout.strip()
        for seed, locale in (("1", "C"), ("2", "C.UTF-8"))
    }
    assert found == {of(mixer_folder)}


def test_what_counts_is_nothing_but_words(mixer_folder: Path) -> None:
    """No number is spelled by the program, which another system could spell otherwise."""
    waiting = [content(load(mixer_folder).written)]
    while waiting:
        part = waiting.pop()
        if isinstance(part, dict):
            assert all(type(key) is str for key in part)
            waiting += part.values()
        elif isinstance(part, list):
            waiting += part
        else:
            assert type(part) is str


# ---------------------------------------------------------------- the approval


def approved(by: str = "maintenance training", digest: str = "0123456789abcdef") -> str:
    return f"approval: {{approved: {{by: {by}, on: 2026-11-25, digest: {digest}}}}}"


@pytest.mark.parametrize("word", ["draft", "trial"])
def test_a_word_is_not_approved(word: str, tmp_path: Path) -> None:
    folder = written(tmp_path / "fan", TINY.replace("approval: draft", f"approval: {word}"))
    machine = load(folder).machine
    assert machine is not None
    assert machine.approval == Approval(word) == approval_of(folder)
    assert not machine.approval.holds
    assert machine.approval.warning.startswith("Not approved: ")
    assert machine.approval.now == ""


def test_an_approval_holds_until_something_changes(tmp_path: Path) -> None:
    folder = written(tmp_path / "fan", TINY)
    text = TINY.replace("approval: draft", approved(digest=of(folder)))
    machine = load(written(folder, text)).machine
    assert machine is not None
    assert machine.approval.holds
    assert (machine.approval.warning, machine.approval.badges) == ("", ())
    assert machine.approval.told == "approved by maintenance training on 2026-11-25"
    assert approval_of(folder) == machine.approval
    machine = load(written(folder, text.replace('"no": 1', '"no": 2'))).machine
    assert machine is not None
    assert machine.approval.changed
    assert not machine.approval.holds
    assert "changed since maintenance training approved it" in machine.approval.warning
    assert approval_of(folder) == machine.approval


@pytest.mark.parametrize(
    ("said", "text", "near"),
    [
        ("tried", "'approval': 'tried' is called 'trial' now", "trial"),
        (
            "reviewed",
            "'approval': 'reviewed' is called 'approved' now; write 'trial', then run diag approve",
            "approved",
        ),
        ("approved", "'approval': 'approved' needs by, on and digest; write 'trial', then run diag approve", ""),
        ("trail", "'approval': unknown word 'trail'; nearest: 'trial'", "trial"),
        ('""', "'approval' is empty", ""),
        (
            "[draft]",
            "'approval' should be draft, trial or approved with by, on and digest, and is a row of entries",
            "",
        ),
        ("{approved: {on: 2026-11-25, digest: 0123456789abcdef}}", "'by' is missing", ""),
        ("{approved: {by: shift, digest: 0123456789abcdef}}", "'on' is missing", ""),
        ("{approved: {by: shift, on: 2026-11-25}}", "'digest' is missing", ""),
        (
            "{approved: {by: shift, on: 25 Nov, digest: 0123456789abcdef}}",
            "'on' should be a day such as 2026-11-25",
            "",
        ),
    ],
)
def test_an_approval_that_is_wrong_makes_no_machine(said: str, text: str, near: str, tmp_path: Path) -> None:
    loaded = load(written(tmp_path / "fan", TINY.replace("approval: draft", f"approval: {said}")))
    assert loaded.machine is None
    assert [(problem.text, problem.hint, problem.line) for problem in loaded.problems] == [(text, near, 4)]


@pytest.mark.parametrize(
    ("line", "seen"),
    [
        ("approval: draft", "draft"),
        ("approval: 'trial'  # since Monday", "trial"),
        ("", "draft"),
        (approved(), ""),
        ("approval:\n  approved: {by: x, on: 2026-11-25, digest: 0123456789abcdef}", ""),
        ("approval: tried", ""),
    ],
)
def test_a_list_tells_what_it_can_tell_at_a_glance(line: str, seen: str, tmp_path: Path) -> None:
    written(tmp_path / "fan", TINY.replace("approval: draft", line))
    (listed,) = listing(tmp_path)
    assert (listed.approval, listed.problem) == (seen, "")


def test_a_folder_that_holds_no_machine_is_a_draft(tmp_path: Path) -> None:
    assert approval_of(tmp_path / "nowhere") == Approval()
    assert approval_of(written(tmp_path / "broken", "[")) == Approval()


# ---------------------------------------------------------------- the old spelling


def test_the_old_spelling_is_read_and_an_approval_under_it_holds(tmp_path: Path) -> None:
    new = TINY.replace("approval: draft", approved(digest=of(written(tmp_path / "fan", TINY))))
    old = written(tmp_path / "old", new.replace("approval: ", "standing: "))
    loaded = load(old)
    assert loaded.machine is not None
    assert loaded.machine.approval.holds
    assert approval_of(old) == loaded.machine.approval == approval_of(written(tmp_path / "fan", new))
    (problem,) = loaded.problems
    assert (problem.line, problem.column, problem.level, problem.hint) == (4, 1, "info", "approval")
    assert problem.text == "'standing' is called 'approval' now; the old name is still read, and means the same"


def test_both_spellings_in_one_file_are_an_error(tmp_path: Path) -> None:
    folder = written(tmp_path / "fan", TINY.replace("approval: draft", "approval: trial\nstanding: draft"))
    (problem,) = load(folder).problems
    assert (problem.line, problem.level, problem.rule) == (5, "error", "twice")


@pytest.mark.parametrize("word", ["draft", "trial"])
def test_the_list_of_machines_reads_the_old_spelling(word: str, tmp_path: Path) -> None:
    written(tmp_path / "fan", TINY.replace("approval: draft", f"standing: {word}"))
    assert listing(tmp_path)[0].approval == word
