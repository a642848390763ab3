"""The examples under "From a paper's table" in DEVELOPERS.md: they run as they stand, and print what they say."""

from __future__ import annotations

import contextlib
import io
import json
import re
from pathlib import Path

import pytest
from bench.flat_table.flat_belief import posterior
from click.testing import CliRunner
from test_reason_policy import SIX, SIX_CHANCES, brute

from diag.cli.group import diag
from diag.reason.policy.policy import TableTest

PAGE = (Path(__file__).resolve().parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
SECTION = PAGE.partition("## From a paper's table\n")[2].partition("\n## ")[0]


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", SECTION, re.MULTILINE | re.DOTALL)


def said(block: str) -> list[str]:
    """What the comment beside each print says that it prints."""
    lines = [line for line in block.splitlines() if line.startswith("print(")]
    assert all("  # " in line for line in lines)
    return [line.partition("  # ")[2] for line in lines]


def printed(block: str) -> list[str]:
    with contextlib.redirect_stdout(io.StringIO()) as out:
        exec(compile(block, "DEVELOPERS.md", "exec"), {})
    return out.getvalue().splitlines()


@pytest.mark.parametrize("block", blocks("python"), ids=["policy"])
def test_the_examples_print_what_they_say(block: str) -> None:
    assert printed(block) == said(block) != []


@pytest.mark.source("Eddy 1982: 1/13; and a positive in doubt, .2 to .9, by hand", found="from memory, recomputed")
def test_a_prior_and_a_table_give_the_posterior() -> None:
    """A table has a row for each cause and a column for each state of one indication. A fact is the number of the state
    seen, or how likely the observation is under each state where it is in doubt."""
    prior = [0.01, 0.99]  # ill, well
    test = [[0.208, 0.792], [0.904, 0.096]]  # negative, positive, for each of the two
    assert posterior(prior, [test], {0: 1}) == pytest.approx([1 / 13, 12 / 13], abs=5e-5)
    for fact, (negative, positive) in (({0: 1}, (0.0, 1.0)), ({0: [0.2, 0.9]}, (0.2, 0.9))):
        joint = [0.01 * (negative * 0.208 + positive * 0.792), 0.99 * (negative * 0.904 + positive * 0.096)]
        assert posterior(prior, [test], fact) == pytest.approx([x / sum(joint) for x in joint])


@pytest.mark.source(
    "Pattipati and Alexandridis 1990, six states: 2.18; the last two tests behind a door of 6, by brute force: 2.78",
    found="matrix from memory, both recomputed",
)
def test_the_costs_that_the_page_gives_are_right() -> None:
    plain, behind = said(blocks("python")[0])
    assert plain == "2.18 True"
    tests = [TableTest(1.0, [row[t] for row in SIX], "cabinet" if t > 2 else None) for t in range(5)]
    assert float(behind) == pytest.approx(brute(SIX_CHANCES, tests, {"cabinet": 6.0}), abs=5e-5)


def test_the_table_for_the_shell_gives_the_answer_beside_it(tmp_path: Path) -> None:
    table, answer = blocks("json")
    file = tmp_path / "FILE.json"
    file.write_text(table, encoding="utf-8")
    result = CliRunner().invoke(diag, ["grow", "--table", str(file)])
    assert result.exit_code == 0, result.output
    assert json.loads(result.stdout) == json.loads(answer)
    # A look always, and behind the cabinet's door unless it was the lamp.
    assert json.loads(answer)["expected_cost"] == pytest.approx(1 + 0.8 * (5 + 2))
