"""Commands about a file that serves several machines."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from diag.case.case import Case
from diag.case.log.events import Noted
from diag.cli.completing import _assets, _cases
from diag.cli.group import diag
from diag.machine.load import read
from diag.machine.model import Role
from diag.record.casebook import Casebook
from diag.safety.types import Person


@pytest.fixture
def site(tmp_path: Path, mixer_folder: Path) -> Path:
    folder = tmp_path / "site" / "mixer"
    folder.mkdir(parents=True)
    text = (mixer_folder / "machine.yaml").read_text(encoding="utf-8")
    text = text.replace("place: Dough room\n", "place: Dough room\nassets:\n- Mixer 4\n- Mixer 5\n")
    (folder / "machine.yaml").write_text(text, encoding="utf-8")
    return folder.parent


@pytest.fixture
def case(site: Path) -> str:
    """A case of the second asset, in which a danger stands."""
    machine = read(site / "mixer").of_asset("mixer 5")
    with Casebook(site.parent / "book.sqlite3") as book:
        case = Case.open(machine, Person("Jo Weber", Role.ELECTRICIAN), book=book)
        case.post(Noted(text="loud"))
        case.say("smell", "burning")
    return case.id


def run(site: Path, *args: str) -> Result:
    book = site.parent / "book.sqlite3"
    where = ["--casebook", str(book)] if book.exists() else []
    return CliRunner().invoke(diag, ["--no-shipped", "--knowledge", str(site), *where, *args])


@pytest.mark.usefixtures("case")
def test_rank_tells_what_is_so_at_the_asset_that_is_meant(site: Path) -> None:
    asked = run(site, "rank", "mixer", "--asset", "mixer 5")
    assert asked.stdout.startswith("Dough mixer 4, Mixer 5, Dough room")
    assert "At the machine: DANGER stands" in asked.stdout
    assert "DANGER" not in run(site, "rank", "mixer", "--asset", "Mixer 4").stdout
    found = json.loads(run(site, "rank", "mixer", "--asset", "Mixer 5", "--json").stdout)
    assert (found["machine"], found["asset"], len(found["machine_condition"]["dangers"])) == ("mixer", "Mixer 5", 1)


@pytest.mark.usefixtures("case")
def test_rank_without_an_asset_tells_of_each(site: Path) -> None:
    assert "At Mixer 5: DANGER stands" in run(site, "rank", "mixer").stdout
    found = json.loads(run(site, "rank", "mixer", "--json").stdout)
    assert found["asset"] is None
    assert found["machine_condition"] is None
    assert {name: len(one["dangers"]) for name, one in found["asset_conditions"].items()} == {
        "Mixer 4": 0,
        "Mixer 5": 1,
    }


@pytest.mark.parametrize("command", [("rank", "mixer"), ("start", "mixer")])
def test_an_unknown_asset_is_refused_in_one_line(site: Path, command: tuple[str, ...]) -> None:
    result = run(site, *command, "--asset", "Mixr 5")
    assert result.exit_code == 2
    assert "unknown asset 'Mixr 5' of 'mixer'; nearest: 'Mixer 5'" in result.stderr


def test_cases_and_sheets_name_the_asset(site: Path, case: str) -> None:
    assert " Dough mixer 4, mixer 5 open," in run(site, "cases").stdout
    (found,) = json.loads(run(site, "cases", "--json").stdout)
    assert (found["machine"], found["asset"]) == ("mixer", "mixer 5")
    assert "Machine: Dough mixer 4, Mixer 5, Dough room" in run(site, "handover", case, "--plain").stdout
    assert f"Case {case} of mixer, mixer 5" in run(site, "cases", "--log", case).stdout


def test_a_case_of_another_asset_is_told(site: Path, case: str) -> None:
    result = run(site, "start", "mixer", "--case", case, "--asset", "Mixer 4")
    assert f"case {case} is of mixer, mixer 5; leave out --asset" in result.stderr


def test_the_list_of_machines_names_the_assets(site: Path) -> None:
    assert "Dough mixer 4, Dough room, Mixer 4, Mixer 5" in run(site, "list").stdout
    assert json.loads(run(site, "list", "--json").stdout)["machines"][0]["assets"] == ["Mixer 4", "Mixer 5"]


def test_a_shell_completes_assets_and_the_cases_of_all_of_them(site: Path, case: str) -> None:
    from click import Context

    root = Context(diag)
    root.params = {"knowledge": [site], "shipped": False, "casebook": site.parent / "book.sqlite3"}
    ctx = Context(diag, parent=root)
    ctx.params = {"machine": "mixer"}
    assert [name for name, _ in _assets(ctx, "")] == ["Mixer 4", "Mixer 5"]
    assert list(_cases(ctx, "")) == [(case, "mixer, mixer 5, open")]
