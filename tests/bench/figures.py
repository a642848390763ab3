"""Fills in every figure of the README and the pages, or compares it with what its command prints now.

    python tests/bench/figures.py                   list the figures, each with its command; runs nothing
    python tests/bench/figures.py NAME ...          compare these; a command's figures are all compared at once
    python tests/bench/figures.py --all             compare all of them (over an hour on two cores)
    python tests/bench/figures.py --quick           compare those that take seconds, and what is made from the program
    python tests/bench/figures.py --write ...       the same, and write what is printed now into the pages

A figure stands between two marks, `<!-- figure: NAME -->95.7 %<!-- /figure -->`, and the table in `figure_table.py`
says which command prints it. The exit code is 1 where one differs. A time is only shown beside what the page says,
since no two runs give the same.
"""

from __future__ import annotations

import argparse
import os
import re
import shlex
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), *(str(ROOT / "tests" / folder) for folder in ("bench", "pages", ""))]

from derived import BLOCKS  # noqa: E402
from figure_table import FIGURES, Figure  # noqa: E402

MARK = re.compile(r"(<!-- figure: (?P<name>[a-z0-9-]+) -->)(?P<text>.*?)(<!-- /figure -->)", re.DOTALL)


def files() -> list[Path]:
    """The files that may hold figures."""
    return [ROOT / "README.md", *sorted((ROOT / "diag" / "pages").glob("*.md"))]


def marked(text: str) -> dict[str, str]:
    """Each figure of a page by its name, as it stands there."""
    return {found["name"]: found["text"].strip() for found in MARK.finditer(text)}


def filled(text: str, values: dict[str, str]) -> str:
    """The page with these figures in place of what stands between their marks."""

    def fill(found: re.Match[str]) -> str:
        name = found["name"]
        if name not in values:
            return found[0]
        value = f"\n\n{values[name]}\n\n" if name in BLOCKS else values[name]
        return f"{found[1]}{value}{found[4]}"

    return MARK.sub(fill, text)


def output(command: str) -> str:
    """What a command prints. Raises RuntimeError where it ends in wrong usage or in a fault."""
    words = shlex.split(command)
    module = [sys.executable, "-m", "diag"] if words[0] == "diag" else [sys.executable]
    # What this user has set for diag must not show in a figure.
    env = {name: value for name, value in os.environ.items() if not name.startswith("DIAG_")}
    env |= {"DIAG_CONFIG": os.devnull, "PYTHONPATH": str(ROOT)}
    done = subprocess.run([*module, *words[1:]], cwd=ROOT, capture_output=True, text=True, env=env)
    if done.returncode not in (0, 1) or not done.stdout:
        raise RuntimeError(f"{command}: exit code {done.returncode}\n{done.stderr}")
    return done.stdout


def measured(figures: Iterable[Figure], say: Callable[[str], None]) -> dict[str, str]:
    """What the commands of these figures print now, by the figure's name. Each command runs once."""
    printed: dict[str, str] = {}
    values = {}
    for figure in figures:
        if figure.runs not in printed:
            start = time.monotonic()
            printed[figure.runs] = output(figure.runs)
            say(f"{figure.runs}: {time.monotonic() - start:.0f} s")
        values[figure.name] = figure.read(printed[figure.runs])
    return values


def chosen(names: list[str], all_of_them: bool, quick: bool) -> tuple[list[Figure], list[str]]:
    """The figures and the derived blocks that are asked for, with all the figures of a command that is run anyway."""
    unknown = [name for name in names if name not in FIGURES and name not in BLOCKS]
    if unknown:
        raise SystemExit(f"no figure {unknown[0]}; known: {', '.join((*FIGURES, *BLOCKS))}")
    commands = {f.command for f in FIGURES.values() if all_of_them or f.name in names or (quick and f.quick)}
    blocks = [name for name in BLOCKS if all_of_them or quick or name in names]
    return [figure for figure in FIGURES.values() if figure.command in commands], blocks


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", metavar="NAME")
    parser.add_argument("--all", action="store_true")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    pages = {file: file.read_text(encoding="utf-8") for file in files()}
    stand = {name: text for page in pages.values() for name, text in marked(page).items()}
    figures, blocks = chosen(asked.names, asked.all, asked.quick)
    if not figures and not blocks:
        for figure in FIGURES.values():
            print(f"{figure.name}: {stand.get(figure.name, '(stands nowhere)')}    {figure.command}")
        print(f"made from the program: {', '.join(BLOCKS)}")
        return 0
    values = {name: BLOCKS[name]() for name in blocks}
    values |= measured(figures, lambda line: print(line, file=sys.stderr, flush=True))
    differ = [name for name, value in values.items() if name in stand and value != stand[name]]
    for name in differ:
        print(f"{name} differs" if name in BLOCKS else f"{name}: the page says {stand[name]}, measured {values[name]}")
    if asked.write:
        for file, page in pages.items():
            if (new := filled(page, values)) != page:
                file.write_text(new, encoding="utf-8")
                print(f"written: {file.relative_to(ROOT)}")
        return 0
    return 1 if any(name in BLOCKS or FIGURES[name].repeats for name in differ) else 0


if __name__ == "__main__":
    sys.exit(main())
