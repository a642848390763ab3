"""`diag vet` and `diag try`: paths in, lines and exit codes out."""

from __future__ import annotations

import io
import json
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from diag.cli.files.simulated import _left_out
from diag.cli.group import diag
from diag.cli.progress import progress
from diag.machine.load import read
from diag.vet.rules.catalogue import EVERY
from diag.vet.vetted.sample import SAMPLE

ROOT = Path(__file__).resolve().parents[2]


def run(knowledge: Path, *args: str) -> Result:
    return CliRunner().invoke(diag, ["--no-shipped", "--knowledge", str(knowledge), *args])


@pytest.fixture
def site(tmp_path: Path, mixer_folder: Path) -> Path:
    """A knowledge folder of one machine, to be written to."""
    shutil.copytree(mixer_folder, tmp_path / "mixer")
    return tmp_path


def change(site: Path, old: str, new: str) -> None:
    file = site / "mixer" / "machine.yaml"
    text = file.read_text()
    assert text.count(old) >= 1
    file.write_text(text.replace(old, new, 1))


def test_vet_is_content_with_the_machines_that_come_with_diag() -> None:
    result = run(ROOT / "knowledge", "vet")
    assert result.exit_code == 0, result.stdout
    assert "no errors" in result.stdout


def test_vet_names_file_line_column_and_the_nearest_word(site: Path) -> None:
    change(site, "start: first-look", "start: frist-look")
    result = run(site, "vet")
    line = next(line for line in result.stdout.splitlines() if "frist-look" in line)
    assert result.exit_code == 1
    assert "machine.yaml:7:8: error: " in line
    assert "'first-look'" in line
    found = json.loads(run(site, "vet", "mixer", "--json").stdout)
    assert [(p["line"], p["column"], p["level"]) for p in found if "frist-look" in p["text"]] == [(7, 8, "error")]


def test_vet_of_one_file_tells_the_problems_of_that_file_alone(site: Path) -> None:
    change(site, "start: first-look", "start: frist-look")
    panel = site / "mixer" / "panel.yaml"
    panel.write_text("indications: {extra: {lamp: gren, normal: lit}}\n")
    result = run(site, "vet", str(panel))
    assert result.stdout.splitlines()[-1] == "1 file: 1 error, no other remarks"
    assert "gren" in result.stdout
    assert "frist-look" not in result.stdout


@pytest.mark.parametrize("word", ["mixer", "{site}/mixer", "{site}/mixer/machine.yaml"])
def test_paths_are_names_folders_or_files(site: Path, word: str) -> None:
    for command in ("vet", "try"):
        result = run(site, command, word.format(site=site))
        assert result.exit_code == 0, result.output


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("mixr", "nearest: mixer"),
        ("{site}", "no machine"),
        ("{site}/nothing/there.yaml", ": no 'nothing' in "),
        ("{site}/mixer/machin.yaml", "; nearest: 'machine.yaml'"),
        ("{site}/mixr/machine.yaml", "; nearest: 'mixer'"),
        ("there.yaml", "no file or folder 'there.yaml': no 'there.yaml' here"),
        ("/etc/hostname", "belongs to no machine"),
        (str(ROOT / "knowledge" / "modules" / "dc-supply.yaml"), "looked at through a machine that uses it"),
    ],
)
def test_other_paths_are_wrong_usage(site: Path, word: str, says: str) -> None:
    for command in ("vet", "try"):
        result = run(site, command, word.format(site=site))
        assert result.exit_code == 2
        assert result.stderr.count("\n") == 1
        assert says in result.stderr


def test_try_replays_every_example_of_every_machine() -> None:
    result = run(ROOT / "knowledge", "try")
    assert result.exit_code == 0, result.stdout
    assert "WRONG" not in result.stdout
    folders = [file.parent for file in (ROOT / "knowledge").glob("*/machine.yaml")]
    wanted = {f"{folder.name}/{example.id}" for folder in folders for example in read(folder).examples}
    assert len(wanted) >= 15
    assert {line.split()[1].rstrip(":") for line in result.stdout.splitlines() if line.startswith("ok ")} == wanted
    assert result.stdout.splitlines()[-1] == f"{len(wanted)} examples, 0 wrong"


def test_try_says_what_does_not_come_out(site: Path, mixer: object) -> None:
    example = mixer.examples[0]  # type: ignore[attr-defined]
    other = next(id for id in mixer.causes if id != example.cause)  # type: ignore[attr-defined]
    change(site, f"cause: {example.cause}", f"cause: {other}")
    result = run(site, "try", "mixer")
    assert result.exit_code == 1
    assert f"WRONG mixer/{example.id}: {other}" in result.stdout
    assert "ranks" in result.stdout
    assert f"first is {example.cause}" in result.stdout
    found = json.loads(run(site, "try", "mixer", "--json").stdout)["examples"]
    assert [row["fine"] for row in found].count(False) == 1


def test_try_tells_what_the_facts_of_a_wrong_example_say(tmp_path: Path) -> None:
    wrong = """  - example: wrong
    title: Wrong
    facts: [{supply-lamp: lit}, {display: F3}, {air: weak}]
    cause: motor-hot
    tree: false
"""
    (tmp_path / "fan").mkdir()
    (tmp_path / "fan" / "machine.yaml").write_text(SAMPLE + wrong)
    lines = run(tmp_path, "try", "fan").stdout.replace("\u00a0", " ").splitlines()
    at = next(n for n, line in enumerate(lines) if line.startswith("WRONG"))
    assert lines[at + 1 : -1] == [
        "      motor-hot ranks 3, not first; first is filter-full",
        "      how likely the facts are under motor-hot, and under filter-full:",
        "         31 %   31 %  before any fact",
        "         <1 %   96 %  Display: filter; speaks for filter-full",
        "         42 %   97 %  Does air come out of the grille? weak; speaks for",
        "                      filter-full",
        "      motor-hot shows display: hot, which alone means always; write {hot:",
        "      usually} if that is wrong",
    ]
    row = json.loads(run(tmp_path, "try", "fan", "--json").stdout)["examples"][-1]["compared"]
    assert row["causes"] == ["motor-hot", "filter-full"]
    assert [fact["indication"] for fact in row["facts"]] == ["supply-lamp", "display", "air"]
    assert row["hint"].startswith("motor-hot shows display: hot, ")


def test_try_says_that_an_example_ends_at_a_danger_sign(tmp_path: Path) -> None:
    """It comes out all the same: that is for `diag vet` to warn of."""
    (tmp_path / "fan").mkdir()
    (tmp_path / "fan" / "machine.yaml").write_text(SAMPLE.replace("{air: weak}]", "{smell: burning}]"))
    result = run(tmp_path, "try", "fan")
    lines = result.stdout.splitlines()
    assert result.exit_code == 0
    at = next(n for n, line in enumerate(lines) if line.startswith("ok    fan/hot-motor"))
    assert " ".join(" ".join(lines[at + 1 : -1]).split()) == (
        "on the screen this case ends at its danger sign: Keep away from the fan and call."
    )
    found = json.loads(run(tmp_path, "try", "fan", "--json").stdout)["examples"]
    assert [row["danger"] for row in found] == [None, "Keep away from the fan and call."]


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_full_bar_leaves_nothing_on_the_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Screen()
    monkeypatch.setattr("sys.stderr", screen)
    with progress(3, "fan") as done:
        done(3)
    text = screen.getvalue()
    assert "fan" in text
    assert text.count("\n") == 1, "one line down, and that is gone up again"
    assert text.endswith("\n\033[1A\r\033[K")


@pytest.mark.parametrize("name", ["double", "without"])
def test_the_other_ways_to_simulate_have_their_own_part(site: Path, name: str) -> None:
    shown = run(site, "try", "mixer", "--simulate", "3", f"--{name}").stdout
    assert "mixer: 3 simulated stops" in shown
    found = json.loads(run(site, "try", "mixer", "--simulate", "3", f"--{name}", "--json").stdout)
    (own,) = found[name]
    assert (own["machine"], own["stops"]) == ("mixer", 3)
    assert found["simulated"] == []


def test_simulated_stops_are_the_same_for_the_same_seed(site: Path) -> None:
    first, again, other = (
        run(site, "try", "mixer", "--simulate", "20", "--seed", seed, "--json").stdout for seed in ("3", "3", "4")
    )
    assert first == again
    assert json.loads(first)["simulated"] != json.loads(other)["simulated"]
    score = json.loads(first)["simulated"][0]
    assert score["stops"] == 20
    assert 0 <= score["first"] <= score["in_three"] <= 1
    shown = run(site, "try", "mixer", "--simulate", "20", "--seed", "3").stdout
    assert "mixer: 20 simulated stops, seed 3" in shown
    words = " ".join(shown.split())
    assert f"cause ranked first {score['first']:.1%}" in words
    assert f"Brier score, log score {score['brier']:.3f}, {score['log_score']:.3f}" in words
    assert sum(own["drawn"] for own in score["causes"]) == 20
    assert list(score["isolated"]) == ["1", "2", "3"]
    assert max(map(len, shown.splitlines())) <= 80


def test_each_cause_has_its_line_and_a_table_ends_several_machines(site: Path) -> None:
    shown = run(site, "try", "mixer", "--simulate", "2", "--each").stdout
    assert "as many of each cause" in shown
    for cause in json.loads(run(site, "try", "mixer", "--simulate", "2", "--each", "--json").stdout)["simulated"][0][
        "causes"
    ]:
        assert cause["drawn"] == 2
        assert any(line.split()[:3] == [cause["cause"], "2", str(cause["first"])] for line in shown.splitlines())
    assert "causes   first" not in shown
    shutil.copytree(site / "mixer", site / "mixer-2")
    both = run(site, "try", "--simulate", "2").stdout.rstrip().splitlines()
    assert both[-3].split()[:4] == ["machine", "causes", "first", "in"]
    assert [line.split()[0] for line in both[-2:]] == ["mixer", "mixer-2"]
    assert run(site, "try", "mixer", "--each").exit_code == 2
    assert "ask for one" in run(site, "try", "mixer", "--simulate", "2", "--each", "--double").stderr


def test_vet_lists_its_rules(site: Path) -> None:
    result = run(site, "vet", "--rules")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert all(len(line) <= 80 for line in lines)
    names = [line.split()[0] for line in lines[:-1] if not line.startswith(" ")]
    assert names == [rule.name for rule in EVERY]
    assert lines[-1] == f"{len(EVERY)} rules"


def test_vet_explains_a_rule_with_its_examples(site: Path) -> None:
    result = run(site, "vet", "--explain", "live-proof")
    assert result.exit_code == 0
    assert result.stdout.startswith("live-proof (warning)\n\nwhy:\n")
    assert "    causes:\n      supply-lost: {proof: {supply: good}}\n" in result.stdout
    assert "    causes:\n      supply-lost: {proof: {supply-lamp: lit}}\n" in result.stdout


@pytest.mark.parametrize("rule", [rule.name for rule in EVERY])
def test_every_rule_can_be_shown_in_a_terminal(site: Path, rule: str) -> None:
    result = run(site, "vet", "--explain", rule)
    assert result.exit_code == 0
    assert all(line.isprintable() for line in result.stdout.splitlines())
    assert ("\\u202e" in result.stdout) == (rule == "encoding")


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["--explain", "live-prof"], "unknown rule 'live-prof'; nearest: 'live-proof'"),
        (["--explain", "nope"], f"unknown rule 'nope'; nearest: 'no-example'; diag vet --rules lists all {len(EVERY)}"),
        (["--rules", "--sarif"], "one of --json, --sarif, --rules, --explain and --prove at a time"),
        (["--rules", "mixer"], "take no PATH"),
    ],
)
def test_vet_says_in_one_line_what_cannot_be_asked(site: Path, args: list[str], says: str) -> None:
    result = run(site, "vet", *args)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert says in result.stderr
    assert result.stderr.count("\n") == 1


def test_vet_writes_sarif_with_the_same_problems_and_exit_code(site: Path) -> None:
    change(site, "start: first-look", "start: frist-look")
    plain, sarif = run(site, "vet", "mixer", "--json"), run(site, "vet", "mixer", "--sarif")
    assert sarif.exit_code == plain.exit_code == 1
    results = json.loads(sarif.stdout)["runs"][0]["results"]
    assert [r["message"]["text"] for r in results] == [p["text"] for p in json.loads(plain.stdout)]


def test_the_proof_is_told_with_its_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    arguments = ["--knowledge", str(ROOT / "tests" / "machines"), "vet", "mixer", "--prove"]
    result = CliRunner().invoke(diag, [*arguments, "--depth", "0"])
    assert result.exit_code == 0, result.output
    said = " ".join(result.output.split())
    assert "paths of the trees" in said
    assert "none shown, answered or entered as done without the gate" in said
    monkeypatch.setattr("diag.case.case.validate_event", lambda machine, projection, event, at=None: event)
    result = CliRunner().invoke(diag, arguments)
    assert result.exit_code == 1
    assert "DOES NOT HOLD as operator: at once" in " ".join(result.output.split())


@pytest.mark.parametrize("wrong", [["--depth", "1"], ["--prove", "--json"]])
def test_the_proof_alone_has_a_depth_and_goes_alone(wrong: list[str]) -> None:
    assert CliRunner().invoke(diag, ["vet", *wrong]).exit_code == 2


@pytest.mark.parametrize(
    ("first", "drawn", "listed", "says"),
    [
        (1, 5, 5, "1 other cause always came first; all of the listed causes were drawn"),
        (2, 5, 6, "2 other causes always came first; 1 of the 6 listed causes was never drawn"),
        (0, 3, 8, "no cause always came first; 5 of the 8 listed causes were never drawn"),
        (4, 4, 4, "every one of the 4 causes that were drawn always came first; all of the listed causes were drawn"),
        (1, 1, 3, "the one cause that was drawn always came first; 2 of the 3 listed causes were never drawn"),
    ],
)
def test_the_causes_without_a_line_are_told_in_a_sentence(first: int, drawn: int, listed: int, says: str) -> None:
    assert _left_out(first, drawn, listed) == says


def test_simulated_stops_tell_how_many_were_missed(site: Path) -> None:
    result = run(site, "try", "mixer", "--simulate", "40", "--quick")
    assert re.search(r"cause not ranked first +\d+ stops?, \d+ with a lost or wrong answer", result.stdout)
    assert re.search(r"always came first; (all|\d+) of the ", result.stdout)
