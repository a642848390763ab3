"""Chains of contacts and of stations: what they stand for, and that half-splitting comes out of the ordinary advice."""

from __future__ import annotations

from math import ceil, log2
from pathlib import Path

import pytest

from diag.machine.load import read
from diag.machine.model import Machine
from diag.reason.advise import advise
from diag.reason.belief import believe
from diag.reason.compile import compile as table_of
from diag.reason.evidence import Evidence, Sight
from diag.reason.situation import Situation

HEAD = "format: 1\ntitle: Packer 1\nplace: Hall 2\ncall: {engineer: the engineer on duty}\n"


def written(folder: Path, text: str) -> Path:
    folder = folder / "packer"
    folder.mkdir()
    (folder / "machine.yaml").write_text(HEAD + text, encoding="utf-8")
    return folder


def chain_of(folder: Path, n: int) -> Machine:
    """A machine of nothing but one chain of `n` contacts, each as likely open and each check as long.

    A remedy is dear beside a check and sure to help, and nobody comes to help soon: else trying one, or calling, may be
    worth more than the last check, and the split is no longer for the fewest checks.
    """
    members = ", ".join(f"s{k}" for k in range(n))
    return read(
        written(
            folder,
            f"""
minutes: {{call: 100000}}
indications:
  end: {{question: Is there voltage at the end of the chain?, answers: [there, gone], normal: there}}
chains:
  stops:
    series: [{members}]
    cause: {{shows: {{end: gone}}, remedy: {{do: "Mend {{member}}", minutes: 100, access: outside, chance: 1}}}}
    check: {{minutes: 1, access: outside}}
""",
        )
    )


def checks_until_one_is_left(machine: Machine, n: int, open_one: int) -> int:
    """How many checks the advice asks for until only the open contact is left, all answers being right."""
    table = table_of(machine)
    sights = [Sight("end", {"gone": 1.0})]
    low, high, asked = 0, n - 1, 0
    barred: frozenset[str] = frozenset()
    while low < high:
        plan = advise(believe(table, Evidence(tuple(sights))), Situation(barred=barred))
        assert plan.best.kind == "check", (low, high)
        (point,) = machine.checks[plan.best.id].gives
        k = int(point.removeprefix("stops-after-s"))
        assert low <= k < high, "a check outside of what is left"
        there = k < open_one
        sights.append(Sight(point, {"present" if there else "absent": 1.0}))
        barred |= {plan.best.id}
        low, high, asked = (k + 1, high, asked + 1) if there else (low, k, asked + 1)
    assert low == open_one
    return asked


@pytest.mark.source(
    "half-split of n equally likely sections: E = ceil(log2 n) + 1 - 2^ceil(log2 n)/n; rule in US Army IT0338 (1996)",
    found="computed; the rule read in public copies",
)
@pytest.mark.parametrize(("n", "mean"), [(5, 2.4), (6, 2.6667), (7, 2.8571), (8, 3.0), (10, 3.4), (16, 4.0)])
def test_a_chain_is_halved_by_the_ordinary_advice(tmp_path: Path, n: int, mean: float) -> None:
    machine = chain_of(tmp_path, n)
    found = sum(checks_until_one_is_left(machine, n, k) for k in range(n)) / n
    assert found == pytest.approx(ceil(log2(n)) + 1 - 2 ** ceil(log2(n)) / n, abs=1e-12)
    assert found == pytest.approx(mean, abs=5e-5)
