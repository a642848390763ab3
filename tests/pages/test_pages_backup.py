"""The command that backs up the casebook does what the pages say, while entries are still in the companion file."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from case.case_steps import ANN
from markdown import ROOT, Text, page, texts

from diag.case.case import Case
from diag.machine.model import Machine
from diag.record.casebook import Casebook

README = texts()[0]


def line(text: Text) -> str:
    found = re.search(r"<!-- backup -->\n```sh\n(.*?)\n```", text.raw)
    assert found is not None
    return found[1]


@pytest.mark.parametrize("text", [README, page("data")], ids=["README", "data"])
def test_the_copy_holds_all_entries(text: Text, mixer: Machine, tmp_path: Path) -> None:
    path = tmp_path / "casebook.sqlite3"
    with Casebook(path) as book:
        case = Case.open(mixer, ANN, book=book)
        case.say("supply-lamp", "dark")
        program, *words = shlex.split(line(text))
        assert program == "diag"
        env = {**os.environ, "PYTHONPATH": str(ROOT), "DIAG_CASEBOOK": str(path)}
        subprocess.run([sys.executable, "-m", "diag", *words], cwd=tmp_path, env=env, check=True, timeout=600)
        with Casebook(tmp_path / words[-1]) as copy:
            assert copy.entries(case.id) == book.entries(case.id)


def test_both_pages_have_the_same_line() -> None:
    assert line(README) == line(page("data"))
