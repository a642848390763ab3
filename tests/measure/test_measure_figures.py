"""Figures under stable names: what a page may quote."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from diag.cli.group import diag
from diag.measure.measurement import Measurement, listed, stopped_early

NAMES = {
    ("taps", "--runs", "2"): {"told_right", "target"},
    ("codes", "mixer"): {
        "led_published",
        "led_best",
        "led_decoder_told",
        "led_decoder",
        "led_ties",
        "displays",
        "codes",
        "right",
        "right_healthy",
        "right_with_fault",
    },
    ("readings",): {"formulas", "worked_values", "right", "wrong", "formulas_without"},
    ("fuzz", "--count", "50"): {"tried", "taken", "refused", "wrong"},
    ("files", "--count", "3"): {"tried", "problems", "rules_broken", "readable", "slowest_seconds", "wrong"},
    ("advice", "--models", "2", "--first", "300"): {
        f"{kind}_{way}_{which}"
        for kind in ("without_set_ups", "set_ups")
        for way in ("entropy_a_minute", "one_step", "rollout", "dynamic_programming")
        for which in ("mean", "p95", "worst")
    },
    ("growth", "--causes", "20", "--causes", "40", "--cases", "1"): {
        *(f"{what}_seconds_{size}" for what in ("vet", "rank", "fact") for size in (20, 40)),
        *(f"{what}_ratio_40" for what in ("vet", "rank", "fact")),
    },
}
"""Pages quote these; a name that goes or changes its meaning makes a page wrong."""


@pytest.mark.parametrize("args", NAMES, ids=lambda args: args[0])
def test_every_measure_has_its_figures_by_name(args: tuple[str, ...]) -> None:
    result = CliRunner().invoke(diag, ["--knowledge", "tests/machines", "measure", *args, "--json"])
    found = json.loads(result.stdout)
    assert found["measure"] == args[0]
    assert found["met"] is (result.exit_code == 0)
    assert set(found["figures"]) == NAMES[args]
    assert all(isinstance(value, int | float) for value in found["figures"].values())


def test_the_figures_are_printed_as_the_json_has_them() -> None:
    runner = CliRunner()
    args = ["--knowledge", "tests/machines", "measure", "codes", "mixer"]
    figures = json.loads(runner.invoke(diag, [*args, "--json"]).stdout)["figures"]
    printed = runner.invoke(diag, args).stdout.partition("figures, as --json names them\n")[2]
    rows = dict(line.split() for line in printed.splitlines())
    assert {name: float(value) for name, value in rows.items()} == pytest.approx(figures)


@pytest.mark.slow
def test_codes_together_weigh_each_code_the_same() -> None:
    """The figure of all displays is the mean over codes, and no mean of the displays' means."""
    result = CliRunner().invoke(diag, ["measure", "codes", "tray-stacker", "--json"])
    found = json.loads(result.stdout)
    shares = [code["with_fault"].get(code["state"], 0.0) for display in found["displays"] for code in display["codes"]]
    assert len(found["displays"]) > 1
    assert found["figures"]["codes"] == len(shares)
    assert found["figures"]["right_with_fault"] == pytest.approx(sum(shares) / len(shares))


def test_wrong_answers_are_listed_up_to_a_few() -> None:
    assert list(listed(["a", "b"], "WRONG ")) == ["  WRONG a", "  WRONG b"]
    assert list(listed([str(n) for n in range(7)]))[-1] == "  and 2 more (--json lists them)"
    assert list(stopped_early(5, 5)) == []
    assert list(stopped_early(50, 2000)) == ["stopped after 50 of 2,000: enough are wrong"]


def test_a_figure_prints_as_many_digits_as_tell() -> None:
    found = Measurement("taps", True, {"told_right": 0.74002248, "runs": 3}, [])
    assert list(found.figure_lines()) == ["  told_right  0.74002248", "  runs        3"]
