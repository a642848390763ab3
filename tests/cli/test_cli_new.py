"""`diag new`: a skeleton that is whole at once, and never writes over anything."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from finish import finish
from jsonschema import Draft202012Validator
from typed import typed

from diag import pages
from diag.cli.group import diag
from diag.machine.language.fields.base_source import fields
from diag.machine.language.fields.module_fields import ParameterSource
from diag.machine.language.schema import SECTIONS, schema
from diag.machine.language.shapes import models
from diag.machine.load import read
from diag.machine.model import Kind
from diag.machine.reader.file_text import MARK
from diag.vet.run import vet_machine
from diag.write.skeleton import NAME_MARK, TITLE_MARK, files, title_of


def run(*args: str) -> Result:
    return CliRunner().invoke(diag, list(args))


@pytest.fixture
def made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A new machine in a folder of its own, which is the current one. Its marks are taken out."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("DIAG_KNOWLEDGE", raising=False)
    result = run("new", "carton-erector-2")
    assert result.exit_code == 0, result.output
    return finish(tmp_path / "carton-erector-2")


def everything(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_it_says_what_it_wrote_and_what_to_do_next(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DIAG_KNOWLEDGE", raising=False)
    result = run("new", "press", "--in", str(tmp_path))
    *written, last = result.stdout.splitlines()
    assert [Path(line).relative_to(tmp_path / "press").as_posix() for line in written] == list(files())
    assert written[0].endswith("machine.yaml")
    assert last.startswith(f"Now open {written[0]} ")
    assert last.endswith(f" At any time: diag --knowledge {tmp_path} vet press")
    known = run("--knowledge", str(tmp_path), "new", "other").stdout.splitlines()[-1]
    assert known.endswith(" At any time: diag vet other")


def test_as_it_comes_vet_tells_its_marks_and_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert run("new", "press").exit_code == 0
    problems = vet_machine(tmp_path / "press")
    assert {(problem.rule, problem.level) for problem in problems} == {("unfinished", "error")}
    assert [problem.file.removeprefix("press/") for problem in problems] == list(files())
    for problem in problems:
        lines = Path(problem.file).read_text().split("\n")
        marked = [number for number, line in enumerate(lines, 1) if MARK in line]
        assert lines[problem.line - 1][problem.column - 1 :].startswith(MARK)
        assert problem.line == marked[0]
        assert len(marked) == 1 or f"in lines {', '.join(map(str, marked))};" in problem.text


def test_as_it_comes_it_can_neither_be_approved_nor_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert run("new", "press").exit_code == 0
    before = everything(tmp_path)
    refused = run("approve", "press", "--by", "training")
    assert refused.exit_code == 1
    assert "(unfinished)" in refused.stdout + refused.stderr
    assert everything(tmp_path) == before
    assert run("rank", "press").exit_code == 1


def test_it_vets_without_a_finding_once_its_marks_are_gone(made: Path) -> None:
    assert vet_machine(made) == ()
    result = run("vet", "carton-erector-2")
    assert (result.exit_code, result.stdout) == (0, "1 machine: no errors, no other remarks\n")


def test_its_examples_come_out_one_for_each_cause(made: Path) -> None:
    result = run("try", "carton-erector-2")
    assert result.exit_code == 0
    assert result.stdout.count("ok ") == 3
    assert result.stdout.splitlines()[-1] == "3 examples, 0 wrong"
    machine = read(made)
    assert {example.cause for example in machine.examples} == set(machine.causes)


def test_it_has_one_of_each_kind_and_what_the_lockout_needs(made: Path) -> None:
    machine = read(made)
    kinds = [i.kind for i in machine.indications.values() if i.id not in machine.resets]
    assert sorted(kinds) == sorted([Kind.LAMP, Kind.DISPLAY, Kind.CONTACT, Kind.READING, Kind.QUESTION])
    assert len(machine.causes) == 3
    assert all(cause.remedy and cause.proof for cause in machine.causes.values())
    (zone,) = machine.zones.values()
    assert len(zone.points) == 2
    assert zone.stored
    assert zone.test_points
    assert machine.dangers
    assert {check.access.value for check in machine.checks.values()} == {"outside", "dead", "live"}


def test_name_and_title_are_put_in_and_no_mark_is_left(made: Path) -> None:
    machine = read(made)
    assert (machine.id, machine.title) == ("carton-erector-2", "Carton erector 2")
    text = "".join(path.read_text() for path in made.rglob("*.yaml"))
    assert NAME_MARK not in text
    assert TITLE_MARK not in text
    assert "diag vet carton-erector-2" in text
    raw = "".join(files().values())
    assert raw.count(NAME_MARK) >= 2
    assert raw.count(TITLE_MARK) >= 2
    assert title_of("x") == "X"


@pytest.mark.parametrize("name", ["24", "on", "null", "true", "0", "a" * 40, "no-1", "1e3"])
def test_any_good_name_makes_a_good_machine(name: str, tmp_path: Path) -> None:
    assert run("new", name, "--in", str(tmp_path)).exit_code == 0
    finish(tmp_path / name)
    assert vet_machine(tmp_path / name) == ()
    assert read(tmp_path / name).title == title_of(name)


def test_the_schema_accepts_it(made: Path) -> None:
    looked_at = 0
    for file in made.rglob("*.yaml"):
        section = file.stem if file.parent == made else file.parent.name
        assert not list(Draft202012Validator(schema(section)).iter_errors(typed(file.read_text())))
        looked_at += 1
    assert looked_at == 6


def test_every_field_of_the_language_is_shown_or_told_in_it() -> None:
    text = "".join(files().values())
    of_modules = ParameterSource  # these stand in a module's own file
    names = {name for model in models() if model is not of_modules for name in fields(model)}
    assert len(names) > 80
    assert not [name for name in sorted(names) if not re.search(rf"(?m)(^|[ {{#`]){re.escape(name)}:", text)]


def test_what_is_told_in_remarks_is_right_too(made: Path) -> None:
    """A field with a # in front can be taken in as it stands, where it says nothing of names that are not there."""
    swaps = {
        "panel.yaml": ("title: Ready lamp", "energy: on", "accuracy: 0.5 % + 3"),
        "causes.yaml": ("chance: 0.95", "comes: intermittent", "intermittent: 0.3"),
        "checks.yaml": ("title: 24 V, measured", "changes: true"),
        "machine.yaml": ("foreign: true", "usual: {ran-on: 90, back-at-once: 5, back-later: 5}"),
        "examples/first-stops.yaml": ("within: 2", "tree: false"),
    }
    for name, fields_in in swaps.items():
        text = (made / name).read_text()
        for field in fields_in:
            assert text.count(f"# {field}") == 1, field
            text = text.replace(f"# {field}", field)
        (made / name).write_text(text)
    assert vet_machine(made) == ()


async def test_it_can_be_walked_at_once_in_the_app(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(Path(__file__).parents[1] / "tui"))
    from stage import OLE, Stage

    stage = Stage(tmp_path, tmp_path / "book.sqlite3")
    async with stage.run("carton-erector-2") as hand:
        await hand.press(*OLE)
        assert "Carton erector 2" in hand.text
        assert "◌ READY" in hand.text
        assert "Look at Display" in hand.text
        await hand.press("enter", "=H1", "enter")
        assert "Ask: Hood" in hand.text
        assert "The tree “What the front shows” asks" in hand.text
        await hand.press("2")
        assert "The tree points to: Hood not all the" in hand.text
        assert "Lower the hood all the way, then reset" in hand.text


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("../x", "cannot be the name of a machine"),
        ("a/b", "a-b would do"),
        ("..", "cannot be the name of a machine"),
        (".", "cannot be the name of a machine"),
        ("", "cannot be the name of a machine"),
        (" ", "cannot be the name of a machine"),
        ("Mixer 4", "mixer-4 would do"),
        ("two words", "two-words would do"),
        ("a" * 41, "at most 40"),
        ("a" * 5000, "at most 40"),
        ("prüfstand", "small letters a to z"),
        ("ｐｒｅｓｓ", "small letters a to z"),
        ("pre\u202ess", "small letters a to z"),
        ("x\ny", "x-y would do"),
        ("x\x1b[2J", "small letters a to z"),
        ("x-", "x would do"),
        ("a--b", "a-b would do"),
        ("x.yaml", "x-yaml would do"),
        ("modules", "choose another"),
        ("tray-stacker", "comes with diag"),
    ],
)
def test_hostile_names_are_refused_in_one_line(
    name: str, says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inner = tmp_path / "inner"
    inner.mkdir()
    monkeypatch.chdir(inner)
    monkeypatch.delenv("DIAG_KNOWLEDGE", raising=False)
    result = run("new", name)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1
    assert says in result.stderr
    assert "\x1b" not in result.stderr
    assert len(result.stderr) < 200
    assert everything(tmp_path) == {}


def test_what_is_there_is_never_touched(made: Path) -> None:
    (made / "panel.yaml").write_text("mine")
    before = everything(made.parent)
    for what in ("carton-erector-2", "empty", "file", "link"):
        (made.parent / "empty").mkdir(exist_ok=True)
        (made.parent / "file").write_text("mine too")
        if not (made.parent / "link").is_symlink():
            (made.parent / "link").symlink_to("nowhere")
        result = run("new", what)
        assert result.exit_code == 2
        assert result.stderr == f"diag: '{what}' is there already; choose another name\n"
    assert everything(made.parent) == {**before, "file": b"mine too"}
    assert not list((made.parent / "empty").iterdir())


def test_where_it_goes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert run("new", "one", "--in", "new-folder").exit_code == 0
    assert (tmp_path / "new-folder" / "one" / "machine.yaml").is_file()
    assert run("--knowledge", "new-folder", "new", "two").exit_code == 0
    assert (tmp_path / "new-folder" / "two" / "machine.yaml").is_file()
    finish(tmp_path / "new-folder")
    assert run("--no-shipped", "--knowledge", "new-folder", "vet").stdout == "2 machines: no errors, no other remarks\n"
    for where, says in (
        ("new-folder/one/machine.yaml", "is not a folder"),
        ("new-folder/one/machine.yaml/x", "is not a folder"),
        ("no/such/folder", "no machine can be made in 'no/such/folder': there is no folder 'no/such'"),
    ):
        result = run("new", "three", "--in", where)
        assert result.exit_code == 2
        assert says in result.stderr
        assert result.stderr.count("\n") == 1


def test_a_disk_that_takes_no_more_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = Path.open

    def full(path: Path, mode: str = "r", *args: object, **more: object) -> object:
        if path.name == "checks.yaml" and "x" in mode:
            raise OSError(28, "No space left on device", str(path))
        return real(path, mode, *args, **more)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", full)
    result = run("new", "press", "--in", str(tmp_path))
    assert result.exit_code == 1
    assert result.stderr == f"diag: {tmp_path}/press/checks.yaml: No space left on device\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written_to(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    result = run("new", "press", "--in", str(tmp_path))
    tmp_path.chmod(0o700)
    assert result.exit_code == 1
    assert result.stderr == f"diag: {tmp_path}/press: Permission denied\n"


def test_the_page_for_trainers_prints_what_is_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its page for trainers, as far as it speaks of the skeleton as it comes."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "machines").mkdir()
    monkeypatch.setenv("DIAG_KNOWLEDGE", str(tmp_path / "machines"))
    page = pages.page("trainer")
    blocks = re.findall(r"```console\n(.*?)```", page, re.S)
    (made, *_) = (block for block in blocks if "$ diag new" in block)
    for command, printed in re.findall(r"\$ diag (.+)\n((?:[^$].*\n)*)", made):
        assert run(*command.split()).stdout == printed
    panel = tmp_path / "machines" / "carton-erector" / "panel.yaml"
    panel.write_text(panel.read_text().replace("lamp: green", "lamp: gren"))
    finish(panel.parent)
    (wrong,) = (block for block in blocks if "gren" in block)
    command, printed = wrong.removeprefix("$ diag ").split("\n", 1)
    assert run(*command.split()).stdout == printed
    settings = json.loads(page.split("```json\n")[1].split("```")[0])
    assert list(settings["yaml.schemas"]) == [f"./{name}.schema.json" for name in SECTIONS]
    assert [glob.removeprefix("*/") for glob in settings["yaml.schemas"].values()] == list(SECTIONS.values())
