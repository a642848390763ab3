"""What YAML would make of plain words, and files that are no text, too large, too deep or not files at all."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest

from diag.machine.load import NotAMachine, load, read
from diag.machine.reader.compose import LONGEST, compose
from diag.machine.reader.file_text import MOST_BYTES
from diag.machine.span import DEEPEST
from diag.vet.vetted.sample import SAMPLE

HEAD = "format: 1\ntitle: Packer 1\nplace: Hall 2\n"
CAUSE = """causes:
  a: {title: A, part: p, often: rare, shows: {x: STATE}}
"""
WORDS = ["on", "off", "yes", "no", "y", "n", "00", "010", "1e3", "12:30", "null", "~", "0x10", "1_000", ".5", "TRUE"]


def problem_of(folder: Path) -> str:
    """The one problem of a folder, without its path."""
    (problem,) = load(folder).problems
    return str(problem).removeprefix(f"{folder.as_posix()}/")


def machine(folder: Path, content: bytes | str) -> Path:
    data = content.encode() if isinstance(content, str) else content
    (folder / "machine.yaml").write_bytes(data)
    return folder


@pytest.mark.parametrize("word", WORDS)
def test_plain_words_stay_words_as_states(word: str, tmp_path: Path) -> None:
    text = f"{HEAD}indications:\n  x: {{question: Which?, usual: {{usual: 9, {word}: 1}}}}\n{CAUSE}"
    loaded = read(machine(tmp_path, text.replace("STATE", word)))
    assert loaded.indications["x"].state_ids == ("usual", word)
    assert loaded.causes["a"].shows == {"x": {word: 0.98}}


@pytest.mark.parametrize("word", ["00", "1e3", "on", "no", "0x10", "null"])
def test_plain_words_stay_words_as_codes(word: str, tmp_path: Path) -> None:
    codes = f"{{'--': idle, {word}: found}}"
    text = f"{HEAD}indications:\n  x: {{display: 4 characters, normal: idle, codes: {codes}}}\n{CAUSE}"
    loaded = read(machine(tmp_path, text.replace("STATE", word)))
    assert [code.pattern for code in loaded.indications["x"].codes] == ["--", word]
    assert loaded.causes["a"].shows == {"x": {"found": 0.98}}


@pytest.mark.parametrize("word", ["yes", "on", "True", "1", "~"])
def test_only_true_and_false_are_truth_values(word: str, tmp_path: Path) -> None:
    text = f"{HEAD}points:\n  q1: {{title: Q1, where: left, foreign: {word}}}\nindications: {{}}\n"
    assert "'foreign' should be true or false (kind)" in "\n".join(map(str, load(machine(tmp_path, text)).problems))


@pytest.mark.parametrize("word", ["1e3", "0x10", "1_000", "007", "12:30", "nan", "inf", "1,5", "+1", "٣"])
def test_only_plain_numbers_are_numbers(word: str, tmp_path: Path) -> None:
    text = f"{HEAD}minutes: {{lock: '{word}'}}\nindications: {{}}\n"
    assert "'lock' should be a number" in "\n".join(map(str, load(machine(tmp_path, text)).problems))


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "1:1: error: the file is empty (empty)"),
        (b"\xef\xbb\xbf", "1:1: error: the file is empty (empty)"),
        ("title: Maß".encode("utf-16"), "1:1: error: written as UTF-16; save it as UTF-8 (encoding)"),
        ("title: Maß".encode("utf-16-be"), "1:1: error: a NUL byte; this is not a UTF-8 text file (encoding)"),
        ("title: Maß".encode("utf-32"), "1:1: error: written as UTF-32; save it as UTF-8 (encoding)"),
        ("a: b\ntitle: Maß".encode("latin-1"), "2:10: error: byte DF is not UTF-8; save the file as UTF-8 (encoding)"),
        (b"a: b\r\nc: \x80\r\n", "2:4: error: byte 80 is not UTF-8; save the file as UTF-8 (encoding)"),
        (b"a: b\nc: d\0\n", "2:5: error: a NUL byte; this is not a UTF-8 text file (encoding)"),
        (b"a: \x1b[31m\n", "1:4: error: control character U+001B; take it out (encoding)"),
        ("a: \u202eb\n".encode(), "1:4: error: control character U+202E; take it out (encoding)"),
        (b"a: [b\n", "1:4: error: the '[' that opens here is not closed, or a ',' is missing (yaml)"),
    ],
)  # fmt: skip
def test_no_text_is_one_clear_line(content: bytes, said: str, tmp_path: Path) -> None:
    assert problem_of(machine(tmp_path, content)) == f"machine.yaml:{said}"


def test_a_byte_order_mark_and_foreign_line_ends_are_fine(mixer_folder: Path, tmp_path: Path) -> None:
    good = (mixer_folder / "machine.yaml").read_text()
    for ends in ("\r\n", "\r"):
        loaded = load(machine(tmp_path, "\ufeff" + good.replace("\n", ends)))
        assert loaded.problems == ()


def test_ten_megabytes_are_refused_unread(tmp_path: Path) -> None:
    with (tmp_path / "machine.yaml").open("wb") as stream:
        stream.truncate(10_000_000)
    assert problem_of(tmp_path) == "machine.yaml:1:1: error: 10.0 MB; a machine file may have 2 MB at most (file)"


def test_just_small_enough_is_read(tmp_path: Path) -> None:
    comment = b"# " + b"x" * (MOST_BYTES - 3) + b"\n"
    assert problem_of(machine(tmp_path, comment)) == "machine.yaml:1:1: error: the file is empty (empty)"
    assert "more than" in problem_of(machine(tmp_path, comment + b"a")) or "2.0 MB" in problem_of(tmp_path)


@pytest.mark.parametrize(
    ("opener", "said"),
    [
        ("[", "nested deeper than 100 levels"),
        ("{a: ", "nested deeper than 100 levels"),
        ("- ", "nested deeper than 100 levels"),
        ("? ", "a map where a key should be"),
    ],
)
def test_depth_is_limited_without_exhausting_the_stack(opener: str, said: str, tmp_path: Path) -> None:
    assert said in problem_of(machine(tmp_path, opener * 200_000))


def test_the_limits_themselves_are_allowed() -> None:
    assert compose("[" * DEEPEST + "]" * DEEPEST, "f")[1] == []
    assert compose("[" * (DEEPEST + 1) + "]" * (DEEPEST + 1), "f")[1] != []
    assert compose("a" * LONGEST, "f")[1] == []
    assert compose("a" * (LONGEST + 1), "f")[1] != []


def test_an_alias_cannot_reach_deeper_than_the_limit() -> None:
    deep = "[" * 60 + "]" * 60
    node, problems = compose(f"a: &a {deep}\nb: {'[' * 60}*a{']' * 60}\n", "f")
    assert node is None
    assert problems[0].rule == "size"


def test_anchors_may_be_used(tmp_path: Path) -> None:
    text = f"""{HEAD}indications:
  x: {{lamp: red, normal: dark, where: &place "front, left"}}
  y: {{lamp: red, normal: dark, where: *place}}
{CAUSE}"""
    loaded = read(machine(tmp_path, text.replace("STATE", "lit")))
    assert loaded.indications["y"].where == "front, left"


def test_a_problem_under_an_alias_points_at_the_alias(tmp_path: Path) -> None:
    text = f"""{HEAD}indications:
  x: {{lamp: red, normal: &wrong gone}}
  y: {{lamp: red, normal: *wrong}}
{CAUSE}"""
    lines = [problem.line for problem in load(machine(tmp_path, text.replace("STATE", "lit"))).problems]
    assert lines == [5, 6]


def test_a_folder_that_is_no_machine(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for folder, said in [
        (tmp_path / "nowhere", "no such folder"),
        (tmp_path / "file", "a file; a machine is a folder that holds a machine.yaml"),
        (tmp_path, "no machine.yaml in it; a machine is a folder that holds one"),
    ]:
        (problem,) = load(folder).problems
        assert str(problem) == f"{folder.as_posix()}:1:1: error: {said} (machine)"
        with pytest.raises(NotAMachine, match=said):
            read(folder)


def test_things_that_are_not_files(tmp_path: Path) -> None:
    (tmp_path / "machine.yaml").symlink_to(tmp_path / "machine.yaml")
    (tmp_path / "panel.yaml").mkdir()
    (tmp_path / "trees").write_text("a file")
    (tmp_path / "examples").mkdir()
    (tmp_path / "examples" / "dir.yaml").mkdir()
    os.mkfifo(tmp_path / "checks.yaml")
    (tmp_path / "causes.yaml").symlink_to(tmp_path / "gone.yaml")
    done: list[list[str]] = []
    # A pipe that is opened would wait for ever: the thread would still be running.
    worker = threading.Thread(target=lambda: done.append([str(p) for p in load(tmp_path).problems]), daemon=True)
    worker.start()
    worker.join(timeout=120)
    told = [line.removeprefix(f"{tmp_path.as_posix()}/") for line in done[0]]
    assert told == [
        "machine.yaml:1:1: error: cannot be read: too many levels of symbolic links (file)",
        "panel.yaml:1:1: error: a folder, where a file was expected (file)",
        "causes.yaml:1:1: error: cannot be read: no such file or directory (file)",
        "checks.yaml:1:1: error: not an ordinary file (file)",
        "trees:1:1: error: cannot be read: not a directory (file)",
        "examples/dir.yaml:1:1: error: a folder, where a file was expected (file)",
    ]


def test_an_unreadable_file_is_told(mixer_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    machine(tmp_path, (mixer_folder / "machine.yaml").read_bytes())
    real = Path.open

    def refuse(path: Path, *args: object, **kwargs: object) -> object:
        if path.name == "machine.yaml":
            raise PermissionError(13, "Permission denied")
        return real(path, *args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(Path, "open", refuse)
    assert problem_of(tmp_path) == "machine.yaml:1:1: error: cannot be read: permission denied (file)"


def test_names_of_a_lost_file_are_no_further_problems(mixer_folder: Path, tmp_path: Path) -> None:
    machine(tmp_path, (mixer_folder / "machine.yaml").read_bytes())
    text = (tmp_path / "machine.yaml").read_text()
    panel = text[text.index("groups:") : text.index("face:")]
    (tmp_path / "machine.yaml").write_text(text.replace(panel, ""))
    (tmp_path / "panel.yaml").write_text(panel + "  - [")
    assert [problem.file.rpartition("/")[2] for problem in load(tmp_path).problems] == ["panel.yaml"]


def test_paths_are_told_relative_to_where_one_stands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "m").mkdir()
    machine(tmp_path / "m", "")
    monkeypatch.chdir(tmp_path)
    assert load(tmp_path / "m").problems[0].file == "m/machine.yaml"
    assert load(Path("m")).problems[0].file == "m/machine.yaml"
    monkeypatch.chdir(tmp_path / "m")
    assert load(Path()).problems[0].file == "machine.yaml"
    assert load(Path("machine.yaml")).problems[0].file == "machine.yaml"


def test_groups_cannot_blow_a_small_file_up(tmp_path: Path) -> None:
    lamps = [f"i{i}" for i in range(2000)]
    text = HEAD + "indications:\n" + "".join(f"  {id}: {{lamp: red, normal: dark}}\n" for id in lamps)
    text += f"groups: {{g: [{', '.join(lamps)}]}}\ncauses:\n"
    text += "".join(f"  c{i}: {{title: C, part: p, often: rare, shows: {{g: lit}}}}\n" for i in range(2000))
    assert "groups stand for more than 100,000 indications" in problem_of(machine(tmp_path, text))


def test_thousands_of_wrong_names_are_all_told_without_a_search_for_each(tmp_path: Path) -> None:
    text = HEAD + "indications:\n" + "".join(f"  i{i}: {{lamp: red, normal: dark}}\n" for i in range(3000))
    text += "causes:\n" + "".join(
        f"  c{i}: {{title: C, part: p, often: rare, shows: {{j{i}: lit}}}}\n" for i in range(3000)
    )
    problems = load(machine(tmp_path, text)).problems
    assert len(problems) == 3000
    assert {problem.rule for problem in problems} == {"unknown"}
    assert problems[-1].hint == ""


def test_a_long_chain_of_what_follows_what_is_no_recursion(tmp_path: Path) -> None:
    links = [
        f"  i{i}: {{lamp: red, normal: dark, follows: {{when: {{i{i + 1}: lit}}, shows: lit}}}}\n" for i in range(3000)
    ]
    end = "  i3000: {lamp: red, normal: dark}\n"
    cause = CAUSE.replace("x: STATE", "i3000: lit")
    assert load(machine(tmp_path, HEAD + "indications:\n" + "".join(links) + end + cause)).problems == ()
    closed = end.replace("}", ", follows: {when: {i0: lit}, shows: lit}}")
    assert "in a circle: i0, i1, i2" in problem_of(
        machine(tmp_path, HEAD + "indications:\n" + "".join(links) + closed + cause)
    )


@pytest.mark.parametrize(("terminals", "told"), [(30, ""), (20_000, "'all' has 20000 terminals; 30 at most")])
def test_terminals_of_a_test_point_cannot_blow_a_small_file_up(terminals: int, told: str, tmp_path: Path) -> None:
    """Each is measured to each other, so that their pairs grow with the square."""
    row = ", ".join(f"t{n}" for n in range(terminals))
    point = f"test-points:\n  all: {{title: T, expects: 0 V, terminals: [{row}]}}\n"
    found = load(machine(tmp_path, SAMPLE.replace("test-points:\n", point))).problems
    assert [p.text for p in found if p.level == "error"] == ([told] if told else [])


def test_a_long_circle_of_what_waits_for_what_is_told_once(tmp_path: Path) -> None:
    stored = "".join(f"  s{n}: {{title: T, release: R, waits-for: s{(n + 1) % 5000}}}\n" for n in range(5000))
    told = problem_of(machine(tmp_path, SAMPLE.replace("stored:\n", f"stored:\n{stored}")))
    assert "'s0' comes after itself, by way of 'waits-for'" in told
