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
from diag.machine.compose import compose
from diag.machine.load import load
from diag.machine.standing import Standing
from diag.machine.write_standing import NotSafe, line_of, rewritten, write_standing
from diag.vet.sense import vet_machine

TODAY = datetime.datetime.now().astimezone().date()


@pytest.fixture
def mixers(tmp_path: Path, mixer_folder: Path) -> Path:
    """A folder of machines with the mixer in it, which may be written to."""
    shutil.copytree(mixer_folder, tmp_path / "machines" / "mixer")
    return tmp_path / "machines"


def run(machines: Path, *args: str) -> Result:
    return CliRunner().invoke(diag, ["--knowledge", str(machines), *args])


def rank(machines: Path) -> Any:
    return json.loads(run(machines, "rank", "mixer", "--json").stdout)["standing"]


def edit(file: Path, old: str, new: str) -> None:
    text = file.read_bytes().decode()
    assert old in text
    file.write_bytes(text.replace(old, new, 1).encode())


def test_round_trip(mixers: Path) -> None:
    """Approved, changed, told, changed back, approved again, taken back: and every other byte is as it was."""
    file = mixers / "mixer" / "machine.yaml"
    before = file.read_bytes()
    assert b"standing: draft\n" in before
    result = run(mixers, "approve", "mixer", "--by", "maintenance training", "--on", "2026-11-25")
    assert (result.exit_code, result.stderr) == (0, "")
    assert "approved: {by: maintenance training, on: 2026-11-25, digest: " in result.stdout
    line = next(line for line in file.read_bytes().splitlines() if line.startswith(b"standing:"))
    assert file.read_bytes() == before.replace(b"standing: draft", line)
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
    assert f"on: {TODAY}" in run(mixers, "approve", "mixer", "--by", "day shift").stdout


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
    assert file.read_bytes() == before.replace(b"standing: draft", b"standing: trial")


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
        (["--by", "x", "--on", "2026-02-30"], "'2026-02-30' is no day of the calendar"),
        (["--by", "x", "--on", "20261125"], "'20261125' is no day of the calendar"),
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
NEW = line_of(Standing("approved", "training", "2026-11-25", "0123456789abcdef"))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("standing: draft\n", f"{NEW}\n"),
        ("standing: draft\nrevision: a #1\n", f"{NEW}\nrevision: a #1\n"),
        ("standing:   trial  # since Monday\n", f"standing:   {NEW[10:]}  # since Monday\n"),
        ('"standing" : "trial"\n', f'"standing" : {NEW[10:]}\n'),
        ("standing: {approved: {by: 'a #1, b', on: 2026-11-24, digest: 0000000000000000}} # x\n", f"{NEW} # x\n"),
        ("standing: {approved: {by: a,\n   on: 2026-11-24,\n   digest: 0000000000000000}}\n", f"{NEW}\n"),
        ("standing:\n  approved:\n    by: a\n    on: 2026-11-24\n    digest: 0000000000000000\n\n\n", f"{NEW}\n\n\n"),
        ("standing:\n", f"{NEW}\n"),
        ("standing: tried\n", f"{NEW}\n"),
        ("revision: 'x'  # y\n", f"revision: 'x'  # y\n{NEW}\n"),
        ("", f"{NEW}\n"),
    ],
)
def test_only_the_standing_becomes_another(old: str, new: str) -> None:
    for end in ("\n", "\r\n", "\r"):
        for mark in ("", "\ufeff"):
            before, after = (mark + HEAD.format(part).replace("\n", end) for part in (old, new))
            assert rewritten(before, NEW) == after
            assert rewritten(after, NEW) == after


def test_a_last_line_without_an_end_keeps_to_be_the_last() -> None:
    assert rewritten("format: 1\ntitle: T", "standing: trial") == "format: 1\ntitle: T\nstanding: trial"
    assert rewritten("format: 1\nstanding: draft", "standing: trial") == "format: 1\nstanding: trial"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (HEAD.format("standing: &how draft\n"), "anchor"),
        (HEAD.format("&key standing: draft\n"), "anchor"),
        (HEAD.format("revision: &how draft\nstanding: *how\n"), "alias"),
        (HEAD.format("standing: {approved: {by: &who a, on: 2026-11-24, digest: 0000000000000000}}\n"), "anchor"),
        (HEAD.format("standing: draft\nstanding: trial\n"), "written twice"),
        (HEAD.format("standing:   # not yet\n  draft\n"), "remark"),
        (HEAD.format("standing:\n  approved:\n    by: a   # the new one\n    on: 2026-11-24\n"), "remark"),
        ("{format: 1, title: T, standing: draft}\n", "braces"),
        ("- standing: draft\n", "no map"),
        ("hazards: [a]\n", "no header field"),
        ("format: 1\nstanding: draft\n---\nstanding: draft\n", "a second document"),
        ("format: 1\nstanding: !!str draft\n", "tag"),
        ("", "empty"),
        ("format: [", "."),
    ],
)
def test_what_is_not_plain_is_left_to_a_person(text: str, why: str) -> None:
    with pytest.raises(NotSafe, match=why):
        rewritten(text, NEW)


def test_a_block_of_text_for_a_standing_is_written_right_or_not_at_all() -> None:
    with pytest.raises(NotSafe):
        rewritten(HEAD.format("standing: |\n  draft\n"), NEW)


@given(by=st.text(min_size=1, max_size=60).filter(lambda t: t.strip() and t.isprintable() and t.isascii()))
def test_whoever_approves_is_read_as_written(by: str) -> None:
    line = line_of(Standing("approved", by.strip(), "2026-11-25", "0123456789abcdef"))
    node, problems = compose(line, "x")
    assert node is not None
    assert problems == []
    wanted = {"by": by.strip(), "on": "2026-11-25", "digest": "0123456789abcdef"}
    assert node.plain() == {"standing": {"approved": wanted}}
    assert rewritten(HEAD.format("standing: draft\n"), line) == HEAD.format(f"{line}\n")


def refused(mixers: Path, why: str) -> None:
    """It is refused, says why and what to paste, and changes no file."""
    file = mixers / "mixer" / "machine.yaml"
    before, names = file.read_bytes(), sorted(file.parent.iterdir())
    result = run(mixers, "approve", "mixer", "--by", "training", "--on", "2026-11-25")
    assert result.exit_code == 1
    said = " ".join(result.stdout.split())
    assert why in said
    assert "Put this in place of its standing: standing: {approved: {by: training, on: 2026-11-25, digest: " in said
    assert (file.read_bytes(), sorted(file.parent.iterdir())) == (before, names)


def test_a_file_that_is_not_to_be_written_to(mixers: Path) -> None:
    (mixers / "mixer" / "machine.yaml").chmod(0o444)
    refused(mixers, "it is not to be written to")


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
    edit(mixers / "mixer" / "machine.yaml", "standing: draft", "standing: &how draft")
    refused(mixers, "its standing has an anchor")


def test_what_was_pasted_holds(mixers: Path) -> None:
    """The line that is printed where nothing may be written is the right one."""
    file = mixers / "mixer" / "machine.yaml"
    edit(file, "standing: draft", "standing: &how draft")
    line = run(mixers, "approve", "mixer", "--by", "training").stdout.splitlines()[-1]
    edit(file, "standing: &how draft", line)
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
        write_standing(file, Standing("trial"))
    assert file.read_text() == text + "# theirs\n"
    assert list(file.parent.iterdir()) == [file]


def test_a_huge_file(mixers: Path) -> None:
    """Near the most that is read: written in a moment, and past it refused."""
    file = mixers / "mixer" / "machine.yaml"
    edit(file, "standing: draft", "standing: draft\n" + "# a remark that says nothing at all\n" * 50_000)
    before = file.read_bytes()
    assert run(mixers, "approve", "mixer", "--by", "training").exit_code == 0
    assert len(file.read_bytes()) > len(before)
    machine = load(file.parent).machine
    assert machine is not None
    assert machine.standing.holds
    with file.open("a") as stream:
        stream.write("# more\n" * 100_000)
    assert run(mixers, "approve", "mixer", "--trial").exit_code == 1
    assert b"approved" in file.read_bytes()
