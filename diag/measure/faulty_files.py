"""Faulty files by the thousand: a machine's files mutated, and each mistake told at a place inside its file.

One of the machine's files is changed in one to four places while the others stay as they are; then the folder is read
and vetted. The promises: nothing is raised; every problem is one printable line whose place lies in a file of the
folder; there is a machine exactly when there is no error; and it takes bounded time.
"""

from __future__ import annotations

import random
import re
import shutil
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from diag.machine.language.fields.sections import FILES, FOLDERS
from diag.machine.problem import Problem
from diag.vet.run import vet_machine
from diag.vet.vetted.sample import SAMPLE

SLOWEST: Final = 5.0
"""Seconds for one folder of a small machine; beyond, it counts as wrong. The usual ones take a hundredth of one."""
MEMORY: Final = Path("/dev/shm")
"""A folder in memory, where the system has one, since a file is written for each input."""
STRIDE: Final = 100
"""Inputs between two words of progress."""
MOST_WRONG: Final = 50
LONG_LINE: Final = 5_000

_ODD: Final = (
    "\t", "\0", "\x07", "\x1b[31m", "\r", "\u00a0", "\u200b", "\u202e", "\u2028", "\ufeff", "\ufffe", "\ud7ff",
    "\U0001f525", "\U000e0041", "e\u0301", "\u0660", "\uff11", "\u00bd", "\u2126", "\u0130", "\u1e9e", "\u4e2d" * 40,
    "&a ", "*a", "&a [*a]", "<<: *a", "!x ", "!!str ", "? ", "- ", "[", "]", "{", "}", ":", ": ", ",", "''", '"', "'",
    "|", ">", "|\n", "%", "@", "`", "#", "---\n", "...\n", "~", "null", "true", "-1", "1e999", "0" * 300, "nan",
    "9" * 400, "0x10", "12:30", "unlisted", "power", "all", "other", "x" * 70, "x" * 2100, "[" * 120, "{a: " * 60,
)  # fmt: skip
_WORD: Final = re.compile(r"[\w.%<>-]+")


@dataclass
class Report:
    """What became of the files."""

    tried: int = 0
    machines: int = 0
    """Folders that could still be read as a machine, and were vetted for sense."""
    problems: int = 0
    rules: Counter[str] = field(default_factory=Counter)
    slowest: float = 0.0
    """Seconds."""
    wrong: list[str] = field(default_factory=list)
    """Broken promises, one line each: the number under the seed, and what happened."""


def run(
    folder: Path | None, count: int, seed: int = 1, first: int = 0, done: Callable[[int], None] = lambda inputs: None
) -> Report:
    """Mutates `count` times, numbers `first` and up; each by its seed and number alone. The machine of `folder`, or the
    sample where it is None. Stops early after many broken promises. Raises OSError for a folder that cannot be read."""
    report = Report()
    with tempfile.TemporaryDirectory(dir=MEMORY if MEMORY.is_dir() else None) as made:
        ground = Path(made) / "machine"
        if folder is None:
            _spread(SAMPLE, ground)
        else:
            shutil.copytree(folder, ground)
        files = {path: path.read_bytes() for path in sorted(ground.rglob("*.yaml"))}
        spoiled: Path | None = None
        for number in range(first, first + count):
            rng = random.Random(f"{seed}/{number}")
            path = rng.choice(list(files))
            if spoiled is not None and spoiled != path:
                spoiled.write_bytes(files[spoiled])
            path.write_bytes(mutated(files[path], rng))
            spoiled = path
            reason = _tried(ground, report)
            if reason:
                report.wrong.append(f"number {number}, {path.relative_to(ground)}: {reason}")
                if len(report.wrong) >= MOST_WRONG:
                    break
            if report.tried % STRIDE == 0:
                done(STRIDE)
    return report


def _spread(text: str, folder: Path) -> None:
    """A machine's one file as the several that it may be."""
    sections = re.split(r"^(?=[a-z-]+:)", text, flags=re.MULTILINE)
    homes = {section: file for file, held in FILES.items() if file != "machine.yaml" for section in held}
    homes.update({section: f"{section}/all.yaml" for section in FOLDERS})
    for section in sections:
        path = folder / homes.get(section.partition(":")[0], "machine.yaml")
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("a") as stream:
            stream.write(section)


def _tried(ground: Path, report: Report) -> str:
    """Reads and vets the folder; what broke a promise, or nothing."""
    report.tried += 1
    start = time.perf_counter()
    try:
        problems = vet_machine(ground)
    except Exception as error:  # the very thing looked for
        return f"{type(error).__name__}: {error}"
    took = time.perf_counter() - start
    report.slowest = max(report.slowest, took)
    report.problems += len(problems)
    report.rules.update({problem.rule for problem in problems})
    report.machines += all(problem.level != "error" for problem in problems)
    if took > SLOWEST:
        return f"took {took:.1f} s"
    lines: dict[str, list[int]] = {}
    return next((doubt for problem in problems if (doubt := misplaced(problem, lines))), "")


def misplaced(problem: Problem, lines: dict[str, list[int]]) -> str:
    """Why a problem is no line with a place inside its file; empty when it is one. `lines` keeps the lengths of the
    lines of each file that was looked into."""
    said = str(problem)
    if "\n" in said or not said.isprintable():
        return f"not one printable line: {said!r}"
    path = Path(problem.file)
    if path.is_dir():
        return "" if (problem.line, problem.column) == (1, 1) else f"a place in a folder: {said}"
    if problem.file not in lines:
        try:
            text = path.read_bytes().decode("utf-8-sig", "replace")
        except OSError:
            return f"no such file: {said}"
        text = text.replace("\r\n", "\n").replace("\r", "\n")
        lines[problem.file] = [len(line) for line in text.split("\n")]
    known = lines[problem.file]
    if not 1 <= problem.line <= len(known):
        return f"line {problem.line} of {len(known)}: {said}"
    if not 1 <= problem.column <= known[problem.line - 1] + 1:
        return f"column {problem.column} of {known[problem.line - 1]}: {said}"
    return ""


# ---------------------------------------------------------------- the ways to spoil a file


def mutated(raw: bytes, rng: random.Random) -> bytes:
    """The file with one to four mistakes in it, small ones mostly."""
    if rng.random() < 0.1:
        return _bytes(raw, rng)
    lines = raw.decode("utf-8").split("\n")
    for _ in range(rng.choice((1, 1, 1, 2, 2, 3, 4))):
        lines = rng.choice(_WAYS)(lines, rng) or [""]
    return "\n".join(lines).encode("utf-8", "surrogatepass")


def _bytes(raw: bytes, rng: random.Random) -> bytes:
    """Single bytes changed, cut out or put in, which leaves no UTF-8 now and then; or a file of bytes alone."""
    if rng.random() < 0.05:
        return rng.randbytes(rng.randrange(400))
    spoiled = bytearray(raw)
    for _ in range(rng.choice((1, 1, 2, 5, 40))):
        at = rng.randrange(len(spoiled) + 1)
        match rng.randrange(4):
            case 0:
                spoiled[at : at + 1] = rng.randbytes(1)
            case 1:
                del spoiled[at : at + rng.choice((1, 1, 2, 30))]
            case 2:
                spoiled[at:at] = rng.randbytes(rng.choice((1, 1, 3)))
            case _:
                del spoiled[at:]
    return bytes(spoiled)


Lines = list[str]


def _at(lines: Lines, rng: random.Random) -> int:
    return rng.randrange(len(lines))


def _drop(lines: Lines, rng: random.Random) -> Lines:
    at = _at(lines, rng)
    return lines[:at] + lines[at + rng.choice((1, 1, 1, 2, 5)) :]


def _twice(lines: Lines, rng: random.Random) -> Lines:
    at = _at(lines, rng)
    return [*lines[:at], lines[at], *lines[at:]]


def _swap(lines: Lines, rng: random.Random) -> Lines:
    one, other = _at(lines, rng), _at(lines, rng)
    lines[one], lines[other] = lines[other], lines[one]
    return lines


def _indent(lines: Lines, rng: random.Random) -> Lines:
    at = _at(lines, rng)
    lines[at] = rng.choice((" " * rng.randrange(12), "\t", "  \t")) + lines[at].lstrip()
    return lines


def _put(lines: Lines, rng: random.Random) -> Lines:
    """Something odd in the middle of a line."""
    at = _at(lines, rng)
    cut = rng.randrange(len(lines[at]) + 1)
    lines[at] = lines[at][:cut] + rng.choice(_ODD) + lines[at][cut:]
    return "\n".join(lines).split("\n")


def _cut(lines: Lines, rng: random.Random) -> Lines:
    at = _at(lines, rng)
    cut = rng.randrange(len(lines[at]) + 1)
    lines[at] = lines[at][:cut] + lines[at][cut + rng.choice((1, 1, 2, 20)) :]
    return lines


def _word(lines: Lines, rng: random.Random) -> Lines:
    """A word in place of another: one of the file's own, or an odd one. It makes the most files that can be read."""
    at = _at(lines, rng)
    words = list(_WORD.finditer(lines[at]))
    if not words:
        return lines
    old = rng.choice(words)
    others = _WORD.findall(lines[_at(lines, rng)])
    new = rng.choice(others) if others and rng.random() < 0.8 else rng.choice(_ODD)
    lines[at] = lines[at][: old.start()] + new + lines[at][old.end() :]
    return "\n".join(lines).split("\n")


def _letter(lines: Lines, rng: random.Random) -> Lines:
    """A slip of the pen: two letters the wrong way round."""
    at = _at(lines, rng)
    if len(lines[at]) > 1:
        cut = rng.randrange(len(lines[at]) - 1)
        lines[at] = lines[at][:cut] + lines[at][cut + 1] + lines[at][cut] + lines[at][cut + 2 :]
    return lines


def _values(lines: Lines, rng: random.Random) -> Lines:
    """The values of two lines, swapped."""
    one, other = _at(lines, rng), _at(lines, rng)
    left, right = lines[one].partition(": "), lines[other].partition(": ")
    if left[1] and right[1] and one != other:
        lines[one], lines[other] = left[0] + ": " + right[2], right[0] + ": " + left[2]
    return lines


def _key(lines: Lines, rng: random.Random) -> Lines:
    """A key of a map in brackets taken out, with its value."""
    at = _at(lines, rng)
    pairs = list(re.finditer(r"[\w-]+: [^,{}\[\]]+(?:, )?", lines[at]))
    if pairs:
        pair = rng.choice(pairs)
        lines[at] = lines[at][: pair.start()] + lines[at][pair.end() :]
    return lines


def _alias(lines: Lines, rng: random.Random) -> Lines:
    """An anchor at one value, and an alias in place of another."""
    one, other = sorted((_at(lines, rng), _at(lines, rng)))
    left, right = lines[one].partition(": "), lines[other].partition(": ")
    if left[1] and right[1]:
        lines[one] = f"{left[0]}: &a {left[2]}"
        lines[other] = f"{right[0]}: *a"
    return lines


def _huge(lines: Lines, rng: random.Random) -> Lines:
    """A line many times over, or a very long one."""
    at = _at(lines, rng)
    if rng.random() < 0.5:
        return [*lines[:at], *[lines[at]] * rng.choice((50, 400)), *lines[at:]]
    lines[at] += rng.choice(("x", " y", ", z", "[", "\u4e2d")) * LONG_LINE
    return lines


_WAYS: Final[tuple[Callable[[Lines, random.Random], Lines], ...]] = (
    _drop, _twice, _swap, _indent, _put, _put, _cut, _word, _word, _word, _word, _letter, _values, _values, _key, _key,
    _alias, _huge,
)  # fmt: skip
