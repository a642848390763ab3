"""Whether two revisions rank alike: 400 seeded sets of facts, and what `diag rank --json` says of each.

    cd OLD && PYTHONPATH=. python NEW/tests/bench/same_rank.py write old.json
    cd NEW && PYTHONPATH=. python tests/bench/same_rank.py write new.json
    python tests/bench/same_rank.py compare old.json new.json

`write` asks the `diag` that Python finds, here through PYTHONPATH, with the machines of its own `knowledge` folder. It
reads each machine once. `compare` prints the largest difference of two numbers, and everything else that differs. Keys
that only the newer file has do not count, and entries of a ranking whose numbers tie may stand in any order. It ends
with 1 if anything differs by more than 1e-9.
"""

from __future__ import annotations

import argparse
import functools
import json
import random
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

MACHINES = ("chilled-conveyor", "kiln-transfer", "pump-set", "tray-stacker")
EACH = 100
"""Sets of facts for each machine."""
MOST_FACTS = 8
ROLES = ("operator", "electrician", "engineer")
CLOSE = 1e-9
SHOWN = 40
"""Differences that are printed one by one."""


def answers() -> Iterator[dict[str, Any]]:
    """For each set of facts its arguments, the exit code, and the object that `diag rank --json` prints."""
    from click.testing import CliRunner

    import diag.machine.load as load
    from diag.cli.group import diag

    knowledge = Path(load.__file__).resolve().parents[2] / "knowledge"
    load.read = functools.cache(load.read)
    runner = CliRunner()
    for name in MACHINES:
        machine = load.read(knowledge / name, examples=False)
        rng = random.Random(f"rank {name}")
        for n in range(EACH):
            told = rng.sample(sorted(machine.indications), rng.randint(0, MOST_FACTS))
            facts = [f"{i}={rng.choice(machine.indications[i].state_ids)}" for i in told]
            asked = ["rank", name, *facts, "--role", ROLES[n % len(ROLES)], "--two", "--json"]
            result = runner.invoke(diag, ["--knowledge", str(knowledge), *asked])
            said = json.loads(result.stdout) if result.exit_code == 0 else result.output
            yield {"asked": asked, "code": result.exit_code, "said": said}


def differences(old: Any, new: Any, at: str) -> Iterator[tuple[str, float]]:
    """Where the newer differs, and by how much; infinity for what is no number. Its further keys do not count."""
    if isinstance(old, dict) and isinstance(new, dict):
        for key, value in old.items():
            if key in new:
                yield from differences(value, new[key], f"{at}.{key}")
            else:
                yield f"{at}.{key} is gone", float("inf")
    elif isinstance(old, list) and isinstance(new, list):
        if len(old) != len(new):
            yield f"{at}: {len(old)} entries, now {len(new)}", float("inf")
        for n, (a, b) in enumerate(zip(old, _as_ranked(old, new), strict=False)):
            yield from differences(a, b, f"{at}[{n}]")
    elif isinstance(old, int | float) and isinstance(new, int | float) and not isinstance(old, bool):
        yield f"{at}: {old}, now {new}", abs(old - new)
    elif old != new:
        yield f"{at}: {old!r}, now {new!r}", float("inf")


def _as_ranked(old: list[Any], new: list[Any]) -> list[Any]:
    """The entries of the newer ranking in the order of the older one, as far as only ties stand otherwise."""
    name, number = ("ids" if old and "ids" in old[0] else "id"), {}
    for entry in old:
        score = entry.get("probability", entry.get("expected_minutes_saved")) if isinstance(entry, dict) else None
        if score is None:
            return new
        number[str(entry.get(name))] = score
    place = {str(entry.get(name)): n for n, entry in enumerate(new)}
    if set(place) != set(number):
        return new
    found = list(new)
    for n, (before, now) in enumerate(zip(old, new, strict=True)):
        if abs(number[str(before.get(name))] - number[str(now.get(name))]) <= CLOSE:
            found[n] = new[place[str(before.get(name))]]
    return found


def compare(old: Path, new: Path) -> int:
    """Print the differences of two files. 1 where there are any, else 0."""
    before, after = (json.loads(path.read_text(encoding="utf-8")) for path in (old, new))
    found = list(differences(before, after, ""))
    numbers = [by for _, by in found if by != float("inf")]
    wrong = [(text, by) for text, by in found if by > CLOSE]
    for text, _ in wrong[:SHOWN]:
        print(text)
    ranked = sum(answer["code"] == 0 for answer in after)
    print(f"{len(after)} sets of facts, {ranked} of them ranked; {len(numbers)} numbers, ", end="")
    print(f"largest difference {max(numbers, default=0.0):.2g}; {len(wrong)} differences above {CLOSE:g}")
    return 1 if wrong else 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ways = parser.add_subparsers(dest="way", required=True)
    ways.add_parser("write").add_argument("file", type=Path)
    held = ways.add_parser("compare")
    held.add_argument("old", type=Path)
    held.add_argument("new", type=Path)
    asked = parser.parse_args()
    if asked.way == "compare":
        return compare(asked.old, asked.new)
    asked.file.write_text(json.dumps(list(answers()), indent=1), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
