"""`diag measure`: what it counts, what it prints, and the exit code when something is wrong."""

from __future__ import annotations

import json
import shutil
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from diag.cli.group import diag
from diag.measure import advice_figures
from diag.measure import worked_values as worked
from diag.panel.formulas.formulas import FORMULAS
from diag.panel.meter import meter
from diag.panel.meter.meter import Measured

MACHINES = Path(__file__).resolve().parents[1] / "machines"


def run(*args: str) -> Result:
    return CliRunner().invoke(diag, ["--no-shipped", "--knowledge", str(MACHINES), "measure", *args])


@cache
def codes_of_the_mixer(*args: str) -> Result:
    """Worked out once for all that look at it."""
    return run("codes", "mixer", *args)


def found(*args: str, code: int = 0) -> dict[str, Any]:
    result = run(*args, "--json")
    assert result.exit_code == code, result.output
    read: dict[str, Any] = json.loads(result.stdout)
    return read


def narrow(result: Result) -> bool:
    return all(len(line) <= 80 for line in result.stdout.splitlines())


@pytest.mark.parametrize(
    ("args", "says"),
    [
        ([], "say what to measure: taps, codes, readings, fuzz, files, advice, growth"),
        (["tap"], "unknown measure 'tap'; nearest: 'taps'"),
        (["codes", "mixr"], "no machine 'mixr'; nearest: mixer"),
        (["taps", "--runs", "0"], "Invalid value for '--runs'"),
        (["fuzz", "--count", "many"], "Invalid value for '--count'"),
    ],
)
def test_wrong_usage_is_one_line(args: list[str], says: str) -> None:
    result = run(*args)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert says in result.stderr
    assert result.stderr.count("\n") == 1


@pytest.mark.parametrize("style", [[], ["--hold"]])
def test_taps_are_told_right_as_often_as_promised(style: list[str]) -> None:
    table = found("taps", "--runs", "15", *style)
    assert table["style"] == ("hold" if style else "tap")
    assert (table["target"], table["jitter_ms"], table["missed"], table["doubled"]) == (0.97, 40, 0.03, 0.02)
    assert table["rate"] >= table["target"]
    assert [sum(row) for row in table["counts"]] == pytest.approx([15] * len(table["patterns"]))
    assert "flicker" not in table["patterns"]
    shown = run("taps", "--runs", "15", *style)
    assert shown.exit_code == 0
    assert narrow(shown)
    assert f"told right {table['rate']:.2%}, target 97%: met" in shown.stdout
    assert found("taps", "--runs", "15", *style) == table
    assert found("taps", "--runs", "15", "--seed", "2", *style)["counts"] != table["counts"] or table["rate"] == 1


def test_taps_that_miss_the_target_are_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diag.measure.tap_trials.likelihoods", lambda taps, patterns, **more: [1.0] * len(patterns))
    result = run("taps", "--runs", "3")
    assert result.exit_code == 1
    assert "told right 14.29%, target 97%: MISSED" in result.stdout


@pytest.mark.source(
    "Breiman, Friedman, Olshen, Stone 1984, pp. 43-49: LED digits, best rate 74 %", found="read in public text"
)
def test_codes_begin_with_the_best_rate_that_can_be() -> None:
    rates = json.loads(codes_of_the_mixer("--json").stdout)["led_domain"]
    assert rates["best"] == rates["decoder_told"] == 0.74002248
    assert rates["published"] == round(rates["best"], 2) == 0.74
    assert rates["decoder"] < rates["best"]
    result = codes_of_the_mixer()
    assert result.exit_code == 0
    assert "by enumeration                          0.74002248" in result.stdout
    assert narrow(result)


def test_codes_of_every_display_with_the_whole_table() -> None:
    result = codes_of_the_mixer("--json")
    assert result.exit_code == 0
    (display,) = json.loads(result.stdout)["displays"]
    assert display["measured"]
    assert display["right_healthy"] > display["right"] > display["right_with_fault"]
    codes = {code["pattern"].strip(): code for code in display["codes"]}
    assert set(codes) == {"--", "A?", "d1", "d2", "G0", ""}
    for code in codes.values():
        assert sum(code["healthy"].values()) == pytest.approx(1)
        assert sum(code["with_fault"].values()) == pytest.approx(1)
    assert codes["d1"]["state"] == codes["d2"]["state"] == "drive-trip"
    lines = codes_of_the_mixer().stdout.splitlines()
    assert sum(line.startswith(("--  ", "A?  ", "d1  ", "d2  ", "G0  ", "blank  ")) for line in lines) == 6


def test_codes_that_look_the_same_are_wrong(tmp_path: Path, mixer_folder: Path) -> None:
    """GO looks like G0, and one of two codes of its state is half as likely as the only one of another."""
    shutil.copytree(mixer_folder, tmp_path / "mixer")
    file = tmp_path / "mixer" / "machine.yaml"
    text = file.read_text()
    assert text.count("d2") == 3
    file.write_text(text.replace("d2", "GO"))
    result = CliRunner().invoke(diag, ["--no-shipped", "--knowledge", str(tmp_path), "measure", "codes", "mixer"])
    assert result.exit_code == 1, result.output
    assert "WRONG on a healthy display GO is taken for drive-trip in 0.0% only" in result.stdout
    assert narrow(result)


def test_every_reading_against_its_worked_values() -> None:
    table = found("readings")
    assert {row["formula"] for row in table["readings"]} == set(FORMULAS)
    assert table["without"] == []
    assert all(row["right"] for row in table["readings"])
    assert all(row["source"] and row["found"] for row in table["readings"])
    result = run("readings")
    assert result.exit_code == 0
    assert narrow(result)
    assert f"{len(worked.WORKED)} worked values, 0 wrong" in result.stdout


def test_a_reading_that_is_off_is_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    off = worked.Worked("voltage drop", ("50", "1", "1.5"), 1.34, 0.005, "a slip of the pen", "from memory")
    refused = worked.Worked("loop percent", ("3",), -6.25, 0.0, "a loop without its limits", "from memory")
    monkeypatch.setattr(worked, "WORKED", (off, refused))
    result = run("readings")
    assert result.exit_code == 1
    assert result.stdout.count("WRONG") == len(FORMULAS)
    assert "3 mA is no value" in result.stdout
    assert "WRONG cycle budget: no worked value" in result.stdout
    assert "2 worked values, 2 wrong" in result.stdout


def test_fuzz_counts_what_became_of_every_input() -> None:
    report = found("fuzz", "--count", "2000", "--seed", "5")
    assert report["tried"] == report["taken"] + report["refused"] == report["count"] == 2000
    assert report["wrong"] == []
    shown = run("fuzz", "--count", "2000", "--seed", "5")
    assert f"2,000 inputs, seed 5: {report['taken']:,} taken, {report['refused']:,} refused, 0 wrong" in shown.stdout


def test_a_parser_that_misreads_or_fails_is_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    real = meter.parse
    monkeypatch.setattr(meter, "parse", lambda text, unit: Measured(real(text, unit).value * 2, unit))
    result = run("fuzz", "--count", "5000")
    assert result.exit_code == 1
    assert "50 wrong" in result.stdout
    assert "and 45 more" in result.stdout
    assert "stopped after" in result.stdout
    monkeypatch.setattr(meter, "parse", lambda text, unit: 1 / 0)
    result = run("fuzz", "--count", "5000")
    assert result.exit_code == 1
    assert "ZeroDivisionError" in result.stdout
    assert narrow(result)


def test_advice_is_measured_against_the_best(monkeypatch: pytest.MonkeyPatch) -> None:
    measured = found("advice", "--models", "2", "--first", "300")
    for kind in ("without_set_ups", "set_ups"):
        ways = measured[kind]
        assert list(ways) == ["entropy a minute", "one step", "rollout", "dynamic programming"]
        assert all(-1e-9 <= share["mean"] <= share["worst"] for share in ways.values())
        assert ways["dynamic programming"]["mean"] <= ways["rollout"]["mean"] + 1e-9
    monkeypatch.setitem(advice_figures.TARGETS[True], "one step", (-1.0, -1.0))
    result = run("advice", "--models", "2", "--first", "300")
    assert result.exit_code == 1
    assert "MISSED" in result.output


def test_faulty_files_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    report = found("files", "--count", "40", "--seed", "9")
    assert (report["tried"], report["count"], report["seed"], report["wrong"]) == (40, 40, 9, [])
    assert sum(report["rules"].values()) > 0
    result = run("files", "mixer", "--count", "12")
    assert result.exit_code == 0
    assert result.stdout.startswith("12 faulty files, seed 1: ")
    assert narrow(result)
    monkeypatch.setattr("diag.measure.faulty_files.SLOWEST", 0.0)
    result = run("files", "--count", "200")
    assert result.exit_code == 1
    assert "WRONG number 0, " in result.stdout
    assert "stopped after 50 of 200: enough are wrong" in result.stdout
    assert narrow(result)
