"""`diag approve`: what it refuses, what it writes, and that it touches nothing else."""

from __future__ import annotations

import datetime
import json
import os
import shutil
import stat
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from diag.cli.group import diag
from diag.machine.approval.approval import Approval
from diag.machine.approval.write_approval import NotSafe, line_of, rewritten, write_approval
from diag.machine.load import load
from diag.machine.reader.compose import compose
from diag.vet.run import vet_machine

TODAY = datetime.datetime.now().astimezone().date()


@pytest.fixture
def mixers(tmp_path: Path, mixer_folder: Path) -> Path:
    """A folder of machines with the mixer in it, which may be written to."""
    shutil.copytree(mixer_folder, tmp_path / "machines" / "mixer")
    return tmp_path / "machines"


def run(machines: Path, *args: str) -> Result:
    return CliRunner().invoke(diag, ["--no-shipped", "--knowledge", str(machines), *args])


def rank(machines: Path) -> Any:
    return json.loads(run(machines, "rank", "mixer", "--json").stdout)["approval"]


def edit(file: Path, old: str, new: str) -> None:
    text = file.read_bytes().decode()
    assert old in text
    file.write_bytes(text.replace(old, new, 1).encode())


def test_round_trip(mixers: Path) -> None:
    """Approved, changed, told, changed back, approved again, taken back: and every other byte is as it was."""
    file = mixers / "mixer" / "machine.yaml"
    before = file.read_bytes()
    assert b"approval: draft\n" in before
    result = run(mixers, "approve", "mixer", "--by", "maintenance training", "--on", "2026-11-25")
    assert (result.exit_code, result.stderr) == (0, "")
    assert "approved: {by: maintenance training, on: 2026-11-25, digest: " in result.stdout
    line = next(line for line in file.read_bytes().splitlines() if line.startswith(b"approval:"))
    assert file.read_bytes() == before.replace(b"approval: draft", line)
    found = rank(mixers)
    assert (found["approved"], found["changed_since_approval"], found["by"]) == (True, False, "maintenance training")
    assert found["digest"] == found["digest_now"]
    assert "Not approved" not in run(mixers, "rank", "mixer").stdout
    assert [p for p in vet_machine(mixers / "mixer") if p.rule == "changed-since-approval"] == []

    edit(file, "wait: 1}", "wait: 3}")
    assert rank(mixers)["changed_since_approval"]
    said = " ".join(run(mixers, "rank", "mixer").stdout.split())
    assert "Not approved as it stands: this machine file has changed since maintenance training approved it" in said
    (told,) = (p for p in vet_machine(mixers / "mixer") if p.rule == "changed-since-approval")
    assert (told.level, told.line) == ("warning", 6)
    edit(file, "wait: 3}", "wait: 1}   # as on the label")
    assert rank(mixers)["approved"]

    assert run(mixers, "approve", "mixer", "--trial").exit_code == 0
    assert rank(mixers) == {"word": "trial", "approved": False, "changed_since_approval": False}
    assert run(mixers, "approve", "mixer", "--draft").exit_code == 0
    edit(file, "wait: 1}   # as on the label", "wait: 1}")
    assert file.read_bytes() == before


def test_without_a_day_it_is_today(mixers: Path) -> None:
    before = datetime.datetime.now().astimezone().date()
    said = run(mixers, "approve", "mixer", "--by", "day shift").stdout
    after = datetime.datetime.now().astimezone().date()  # midnight may have passed
    assert f"on: {before}" in said or f"on: {after}" in said


def test_an_error_and_a_wrong_example_are_refused_and_listed(mixers: Path) -> None:
    file = mixers / "mixer" / "machine.yaml"
    edit(file, "cause: ", "cause: unlisted   # ")
    before = file.read_bytes()
    result = run(mixers, "approve", "mixer", "--by", "training")
    assert result.exit_code == 1
    assert "(example-fails)" in result.stdout
    assert result.stdout.endswith("not approved; nothing was written\n")
    assert file.read_bytes() == before
    edit(file, "wait: 1}", "wait: one}")
    before = file.read_bytes()
    result = run(mixers, "approve", "mixer", "--by", "training")
    assert result.exit_code == 1
    assert "'wait' should be a number such as 12 or 0.5 (kind)" in result.stdout
    assert file.read_bytes() == before
    # The way back does not hang on what the file says.
    assert run(mixers, "approve", "mixer", "--trial").exit_code == 0
    assert file.read_bytes() == before.replace(b"approval: draft", b"approval: trial")


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ([], "one of --by WORDS, --trial and --draft"),
        (["--by", "x", "--trial"], "one of --by WORDS, --trial and --draft"),
        (["--trial", "--draft"], "one of --by WORDS, --trial and --draft"),
        (["--trial", "--on", "2026-11-25"], "--on goes with --by"),
        (["--by", " "], "--by is who approves it"),
        (["--by", "a\nb"], "--by is who approves it"),
        (["--by", "x" * 201], "--by is who approves it"),
        (["--by", "x", "--on", "2026-02-30"], "'2026-02-30' is not a day of the calendar"),
        (["--by", "x", "--on", "20261125"], "'20261125' is not a day of the calendar"),
        (["--by", "x", "--on", str(TODAY + datetime.timedelta(days=2))], "has not come yet"),
    ],
)
def test_wrong_usage(args: list[str], said: str, mixers: Path) -> None:
    before = (mixers / "mixer" / "machine.yaml").read_bytes()
    result = run(mixers, "approve", "mixer", *args)
    assert result.exit_code == 2
    assert said in result.stderr
    assert (mixers / "mixer" / "machine.yaml").read_bytes() == before


def test_no_such_machine(mixers: Path) -> None:
    assert "no machine 'mixr'; nearest: mixer" in run(mixers, "approve", "mixr", "--trial").stderr


def test_a_machine_without_examples_is_told_of(tmp_path: Path, mixers: Path) -> None:
    file = mixers / "mixer" / "machine.yaml"
    text = file.read_text()
    file.write_text(text[: text.index("\nexamples:")] + "\n")
    result = run(mixers, "approve", "mixer", "--by", "training")
    assert (result.exit_code, "it has no worked example" in result.stdout) == (0, True)


# ---------------------------------------------------------------- what is written, and what is left alone

HEAD = "format: 1\ntitle: T\nplace: P\n{}hazards: [a]   # b\n"
NEW = line_of(Approval("approved", "training", "2026-11-25", "0123456789abcdef"))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("approval: draft\n", f"{NEW}\n"),
        ("approval: draft\nrevision: a #1\n", f"{NEW}\nrevision: a #1\n"),
        ("approval:   trial  # since Monday\n", f"approval:   {NEW[10:]}  # since Monday\n"),
        ('"approval" : "trial"\n', f'"approval" : {NEW[10:]}\n'),
        ("approval: {approved: {by: 'a #1, b', on: 2026-11-24, digest: 0000000000000000}} # x\n", f"{NEW} # x\n"),
        ("approval: {approved: {by: a,\n   on: 2026-11-24,\n   digest: 0000000000000000}}\n", f"{NEW}\n"),
        ("approval:\n  approved:\n    by: a\n    on: 2026-11-24\n    digest: 0000000000000000\n\n\n", f"{NEW}\n\n\n"),
        ("approval:\n", f"{NEW}\n"),
        ("approval: tried\n", f"{NEW}\n"),
        ("standing: draft\n", f"{NEW}\n"),
        ('"standing" :  trial # x\n', f'"approval" :  {NEW[10:]} # x\n'),
        ("standing:\n  approved:\n    by: a\n", f"{NEW}\n"),
        ("revision: 'x'  # y\n", f"revision: 'x'  # y\n{NEW}\n"),
        ("", f"{NEW}\n"),
    ],
)
def test_only_the_approval_becomes_another(old: str, new: str) -> None:
    for end in ("\n", "\r\n", "\r"):
        for mark in ("", "\ufeff"):
            before, after = (mark + HEAD.format(part).replace("\n", end) for part in (old, new))
            assert rewritten(before, NEW) == after
            assert rewritten(after, NEW) == after


def test_a_last_line_without_an_end_keeps_to_be_the_last() -> None:
    assert rewritten("format: 1\ntitle: T", "approval: trial") == "format: 1\ntitle: T\napproval: trial"
    assert rewritten("format: 1\napproval: draft", "approval: trial") == "format: 1\napproval: trial"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (HEAD.format("approval: &how draft\n"), "anchor"),
        (HEAD.format("&key approval: draft\n"), "anchor"),
        (HEAD.format("revision: &how draft\napproval: *how\n"), "alias"),
        (HEAD.format("approval: {approved: {by: &who a, on: 2026-11-24, digest: 0000000000000000}}\n"), "anchor"),
        (HEAD.format("approval: draft\napproval: trial\n"), "written twice"),
        (HEAD.format("approval:   # not yet\n  draft\n"), "remark"),
        (HEAD.format("approval:\n  approved:\n    by: a   # the new one\n    on: 2026-11-24\n"), "remark"),
        ("{format: 1, title: T, approval: draft}\n", "braces"),
        ("- approval: draft\n", "no map"),
        ("hazards: [a]\n", "no header field"),
        ("format: 1\napproval: draft\n---\napproval: draft\n", "a second document"),
        ("format: 1\napproval: !!str draft\n", "tag"),
        ("", "empty"),
        ("format: [", "."),
    ],
)
def test_what_is_not_plain_is_left_to_a_person(text: str, why: str) -> None:
    with pytest.raises(NotSafe, match=why):
        rewritten(text, NEW)


def test_a_block_of_text_for_an_approval_is_written_right_or_not_at_all() -> None:
    with pytest.raises(NotSafe):
        rewritten(HEAD.format("approval: |\n  draft\n"), NEW)


@given(by=st.text(min_size=1, max_size=60).filter(lambda t: t.strip() and t.isprintable() and t.isascii()))
def test_whoever_approves_is_read_as_written(by: str) -> None:
    line = line_of(Approval("approved", by.strip(), "2026-11-25", "0123456789abcdef"))
    node, problems = compose(line, "x")
    assert node is not None
    assert problems == []
    wanted = {"by": by.strip(), "on": "2026-11-25", "digest": "0123456789abcdef"}
    assert node.plain() == {"approval": {"approved": wanted}}
    assert rewritten(HEAD.format("approval: draft\n"), line) == HEAD.format(f"{line}\n")


def refused(mixers: Path, why: str) -> None:
    """It is refused, says why and what to paste, and changes no file."""
    file = mixers / "mixer" / "machine.yaml"
    before, names = file.read_bytes(), sorted(file.parent.iterdir())
    result = run(mixers, "approve", "mixer", "--by", "training", "--on", "2026-11-25")
    assert result.exit_code == 1
    said = " ".join(result.stdout.split())
    assert why in said
    assert "Replace its approval with this line: approval: {approved: {by: training, on: 2026-11-25, digest: " in said
    assert (file.read_bytes(), sorted(file.parent.iterdir())) == (before, names)


def test_a_write_protected_file(mixers: Path) -> None:
    (mixers / "mixer" / "machine.yaml").chmod(0o444)
    refused(mixers, "it is write-protected")


def test_a_link(mixers: Path) -> None:
    file = mixers / "mixer" / "machine.yaml"
    file.rename(mixers / "real.yaml")
    file.symlink_to(mixers / "real.yaml")
    refused(mixers, "it is a link to another file")
    assert file.is_symlink()


def test_a_second_name(mixers: Path) -> None:
    os.link(mixers / "mixer" / "machine.yaml", mixers / "other.yaml")
    refused(mixers, "it has other names")


def test_an_anchor(mixers: Path) -> None:
    edit(mixers / "mixer" / "machine.yaml", "approval: draft", "approval: &how draft")
    refused(mixers, "its approval has an anchor")


def test_what_was_pasted_holds(mixers: Path) -> None:
    """The line that is printed where nothing may be written is the right one."""
    file = mixers / "mixer" / "machine.yaml"
    edit(file, "approval: draft", "approval: &how draft")
    line = run(mixers, "approve", "mixer", "--by", "training").stdout.splitlines()[-1]
    edit(file, "approval: &how draft", line)
    assert rank(mixers)["approved"]


def test_the_mode_stays(mixers: Path) -> None:
    file = mixers / "mixer" / "machine.yaml"
    file.chmod(0o640)
    assert run(mixers, "approve", "mixer", "--trial").exit_code == 0
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert list(file.parent.iterdir()) == [file]


def test_when_it_cannot_be_put_in_place_nothing_is_left(mixers: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    refused(mixers, "no space left on device")


def test_somebody_else_who_writes_at_the_same_moment_is_not_written_over(
    mixers: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = mixers / "mixer" / "machine.yaml"
    text = file.read_text()

    def meanwhile(_: int) -> None:
        file.write_text(text + "# theirs\n")

    monkeypatch.setattr(os, "fsync", meanwhile)
    with pytest.raises(NotSafe, match="somebody else wrote"):
        write_approval(file, Approval("trial"))
    assert file.read_text() == text + "# theirs\n"
    assert list(file.parent.iterdir()) == [file]


def test_a_huge_file(mixers: Path) -> None:
    """Near the most that is read: written in a moment, and past it refused."""
    file = mixers / "mixer" / "machine.yaml"
    edit(file, "approval: draft", "approval: draft\n" + "# a remark that says nothing at all\n" * 50_000)
    before = file.read_bytes()
    assert run(mixers, "approve", "mixer", "--by", "training").exit_code == 0
    assert len(file.read_bytes()) > len(before)
    machine = load(file.parent).machine
    assert machine is not None
    assert machine.approval.holds
    with file.open("a") as stream:
        stream.write("# more\n" * 100_000)
    assert run(mixers, "approve", "mixer", "--trial").exit_code == 1
    assert b"approved" in file.read_bytes()


def test_a_skeleton_is_not_approved_and_one_line_says_where_it_is_still_an_example(tmp_path: Path) -> None:
    assert CliRunner().invoke(diag, ["new", "rinser", "--in", str(tmp_path)]).exit_code == 0
    before = (tmp_path / "rinser" / "machine.yaml").read_bytes()
    result = run(tmp_path, "approve", "rinser", "--by", "maintenance training")
    assert result.exit_code == 1
    (line, end) = result.stdout.splitlines()
    assert line.startswith("CHANGE FIRST is still in ")
    assert line.count(".yaml:") == sum("CHANGE FIRST" in f.read_text() for f in tmp_path.rglob("*.yaml")) > 1
    assert end == "not approved; nothing was written"
    assert (tmp_path / "rinser" / "machine.yaml").read_bytes() == before
