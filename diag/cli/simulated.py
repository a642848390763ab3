"""What `diag try --simulate` tells of simulated stops, as lines and as JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from diag.cli.text import say, wrapped

if TYPE_CHECKING:
    from diag.drill.double import Doubles
    from diag.drill.score import Score
    from diag.drill.unlisted import Noticed
    from diag.reason.figures import Diagnosability

SHOWN = 12
"""Misses and groups named before the rest is only counted."""
SIZES = (1, 2, 3)
"""Sizes of ambiguity groups that are told."""
LABEL = 36
"""Columns for the name of a figure."""


@dataclass(frozen=True, eq=False)
class Simulated:
    """The stops of one machine with one cause each."""

    machine: str
    causes: tuple[str, ...]
    """The listed ones."""
    score: Score
    all_looks: Diagnosability
    from_outside: Diagnosability


def print_simulated(found: Simulated, seed: int, each: bool) -> None:
    """The causes first, the figures over all stops last, where a long list leaves them on the screen.

    With `each` the stops are as many of every cause: then every cause has its line, else those that did not always
    come first."""
    score, n = found.score, len(found.score.stops)
    say()
    say(f"{found.machine}: {n} simulated stops{', as many of each cause' if each else ''}, seed {seed}")
    _print_causes(found, each)
    _print_looks("all looks together", found.all_looks, found.causes)
    _print_looks("looks from outside", found.from_outside, found.causes)
    say("  at the end of a stop")
    for label, figure in (
        ("cause ranked first", f"{score.within(1):.1%}"),
        ("cause among the first three", f"{score.within(3):.1%}"),
        ("isolated to 1, 2, 3 causes", ", ".join(f"{score.isolated(size):.1%}" for size in SIZES)),
        ("Brier score, log score", f"{score.brier:.3f}, {score.log:.3f}"),
        ("calibration error, top cause", f"{score.calibration:.1%}"),
        ("checks and minutes a stop", f"{score.asked:.1f} and {score.minutes:.0f} min"),
        ("stops with a lost or wrong answer", f"{score.spoiled:.1%}"),
    ):
        say(f"    {label:<{LABEL - 2}}{figure}")
    missed = [s for s in score.stops if s.place > 1]
    if missed:
        spoiled = sum(s.spoiled > 0 for s in missed)
        say(f"    {'not first, of them with such ones':<{LABEL - 2}}{len(missed)}, {spoiled}")


def _print_causes(found: Simulated, each: bool) -> None:
    own = found.score.by_cause
    told = own if each else [o for o in own if o.first < o.drawn]
    if told:
        wide = max(len(o.cause) for o in told)
        say(f"  {'cause':<{wide}}  drawn  first  in 3   min  taken for")
        for o in told:
            taken = ", ".join(f"{times} x {cause}" if times > 1 else cause for cause, times in o.taken)
            say(f"  {o.cause:<{wide}}  {o.drawn:5}  {o.first:5}  {o.three:4}  {o.minutes:4.0f}  {taken}".rstrip())
    if not each:
        drawn, listed = len(own), len(found.causes)
        say(f"  {drawn - len(told)} others always came first; {listed - drawn} of {listed} causes were not drawn")


def _print_looks(label: str, found: Diagnosability, causes: Sequence[str]) -> None:
    say(f"  what {label} can tell apart, were every answer the likeliest")
    say(f"  {'  detected':<{LABEL}}{found.detection:.1%}")
    say(f"  {'  isolated to 1, 2, 3 causes':<{LABEL}}" + ", ".join(f"{found.isolation(size):.1%}" for size in SIZES))
    alike = [group for group in found.groups if len(group) > 1]
    for group in alike[:SHOWN]:
        for line in wrapped(f"alike: {', '.join(causes[c] for c in group)}", 4, 6):
            say(line)
    if len(alike) > SHOWN:
        say(f"    and {len(alike) - SHOWN} other groups")
    for c in _unseen(found, causes):
        say(f"    mostly shows nothing: {causes[c]}")


def _unseen(found: Diagnosability, causes: Sequence[str]) -> list[int]:
    return sorted(set(range(len(causes))).difference(*found.groups))


def print_table(all_found: Sequence[Simulated]) -> None:
    """A line for each machine; `alone` is isolated to one cause."""
    wide = max(len(found.machine) for found in all_found)
    say()
    say(f"{'machine':<{wide}}  causes   first    in 3   alone  Brier    log  calib.  checks  min")
    for found in all_found:
        score = found.score
        say(
            f"{found.machine:<{wide}}  {len(found.causes):6}  {score.within(1):6.1%}  {score.within(3):6.1%}"
            f"  {score.isolated(1):6.1%}  {score.brier:5.3f}  {score.log:5.3f}  {score.calibration:6.1%}"
            f"  {score.asked:6.1f}  {score.minutes:3.0f}"
        )


def print_doubles(id: str, found: Doubles, seed: int) -> None:
    n = len(found.stops)
    say()
    say(f"{id}: {n} simulated stops with two causes, seed {seed}")
    if not n:
        say("  fewer than two causes: nothing to draw")
        return
    say(f"  both named in the first two pairs     {found.named:.1%}, {sum(s.named for s in found.stops)} of {n}")
    say(f"  their pair first, in the first two    {found.within(1):.1%}, {found.within(2):.1%}")
    say(f"  one of them first as a single cause   {sum(s.single for s in found.stops) / n:.1%}")
    say(f"  odd for one cause before two were asked for  {sum(s.odd for s in found.stops) / n:.1%}")
    asked = sum(s.asked for s in found.stops) / n
    say(f"  checks and minutes a stop             {asked:.1f} and {sum(s.minutes for s in found.stops) / n:.0f} min")
    for stop in [s for s in found.stops if not s.named][:SHOWN]:
        say(f"    not named: {stop.causes[0]}, {stop.causes[1]}")


def print_noticed(id: str, found: Noticed, seed: int) -> None:
    n = len(found.stops)
    say()
    say(f"{id}: {n} simulated stops whose cause is taken out of the file, seed {seed}")
    if n:
        say(f"  not in the file: first, in the first two      {found.within(1):.1%}, {found.within(2):.1%}")
        say(f"  first wrongly, with the cause in the file     {found.taken:.1%}")
        for cause, top, times in found.misses[:SHOWN]:
            say(f"    {times} x {cause}, taken for {top}")
    if found.twins:
        say(f"  not drawn, since another cause shows nearly the same: {len(found.twins)}")
        for cause, twin, bits in found.twins:
            say(f"    {cause}, like {twin} ({bits:.1f} bits)")


def simulated_object(found: Simulated, seed: int) -> dict[str, Any]:
    score = found.score
    return {
        "machine": found.machine,
        "stops": len(score.stops),
        "seed": seed,
        "first": score.within(1),
        "in_three": score.within(3),
        "isolated": {size: score.isolated(size) for size in SIZES},
        "brier": score.brier,
        "log_score": score.log if math.isfinite(score.log) else None,
        "calibration": score.calibration,
        "checks": score.asked,
        "minutes": score.minutes,
        "with_bad_answers": score.spoiled,
        "causes": [asdict(own) for own in score.by_cause],
        "all_looks": _looks_object(found.all_looks, found.causes),
        "from_outside": _looks_object(found.from_outside, found.causes),
        "misses": [{"cause": true, "taken": taken, "times": n} for true, taken, n in score.misses],
    }


def _looks_object(found: Diagnosability, causes: Sequence[str]) -> dict[str, Any]:
    return {
        "detection": found.detection,
        "isolation": {size: found.isolation(size) for size in SIZES},
        "mean_group": found.mean_size,
        "expected_group": found.expected_size,
        "groups": [[causes[c] for c in group] for group in found.groups if len(group) > 1],
        "unseen": [causes[c] for c in _unseen(found, causes)],
    }


def double_object(id: str, found: Doubles, seed: int) -> dict[str, Any]:
    return {
        "machine": id,
        "stops": len(found.stops),
        "seed": seed,
        "both_named_in_two": found.named if found.stops else None,
        "pair_first": found.within(1) if found.stops else None,
        "pair_in_two": found.within(2) if found.stops else None,
    }


def without_object(id: str, found: Noticed, seed: int) -> dict[str, Any]:
    return {
        "machine": id,
        "stops": len(found.stops),
        "seed": seed,
        "unlisted_first": found.within(1) if found.stops else None,
        "unlisted_in_two": found.within(2) if found.stops else None,
        "taken_wrongly": found.taken if found.stops else None,
        "twins": [{"cause": cause, "twin": twin, "bits": bits} for cause, twin, bits in found.twins],
    }
