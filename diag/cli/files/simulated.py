"""What `diag try --simulate` tells of simulated stops, as lines and as JSON."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from diag.cli.printing import counted, wrapped

if TYPE_CHECKING:
    from diag.practice.double import Doubles
    from diag.practice.score import Score
    from diag.practice.unlisted import Noticed
    from diag.reason.figures import Diagnosability

SHOWN = 12
"""Misses and groups named before the rest is only counted."""
SIZES = (1, 2, 3)
"""Sizes of ambiguity groups that are told."""
LABEL = 36
"""Columns for the name of a figure."""
HEAD = "   first    in 3   alone  Brier    log  calib.  checks"
"""Above the figures of `_row`; `alone` is isolated to one cause."""
FOLLOWED = {
    "advice": "Followed as the app advises, through a case each: the tree while it leads, the gate, checks, remedies "
    "and their proof, calls. The look ahead is halted after {nodes} nodes. The diagnosis is scored before the first "
    "remedy.",
    "quick": "Followed by checks alone, without a case: every check is allowed, nothing is locked out, and remedies "
    "are left out. This is not quite the advice that the app shows; --compare tells by how much it differs.",
}
ENDINGS = {
    "cured": "cured and proved",
    "unproved": "cured without a whole proof",
    "called": "by a call",
    "danger": "at a danger sign",
    "lost": "not at all",
}
"""How a stop that was followed ended, in words."""


@dataclass(frozen=True, eq=False)
class Simulated:
    """The stops of one machine with one cause each."""

    machine: str
    causes: tuple[str, ...]
    """The listed ones."""
    scores: dict[str, Score]
    """The stops as they went in each way that was followed; the first way is the one that is told in full."""
    all_looks: Diagnosability
    from_outside: Diagnosability

    @property
    def way(self) -> str:
        return next(iter(self.scores))

    @property
    def score(self) -> Score:
        return self.scores[self.way]


def simulated_lines(found: Simulated, seed: int, each: bool) -> Iterator[str]:
    """The causes first, the figures over all stops last, where a long list leaves them on the screen.

    With `each` the stops are as many of every cause: then every cause has its line, else those that did not always
    come first."""
    score, n = found.score, len(found.score.stops)
    yield ""
    yield f"{found.machine}: {n} simulated stops{', as many of each cause' if each else ''}, seed {seed}"
    yield from wrapped(FOLLOWED[found.way].format(nodes=_nodes()), 2)
    yield from _causes(found, each)
    yield from _looks("all looks together", found.all_looks, found.causes)
    yield from _looks("looks from outside", found.from_outside, found.causes)
    yield "  at the end of a stop"
    figures = {
        "cause ranked first": f"{score.within(1):.1%}",
        "cause among the first three": f"{score.within(3):.1%}",
        "isolated to 1, 2, 3 causes": _by_size(score.isolated),
        "Brier score, log score": f"{score.brier:.3f}, {score.log:.3f}",
        "calibration error, top cause": f"{score.calibration:.1%}",
        "checks and minutes a stop": f"{score.asked:.1f} and {score.minutes:.0f} min",
    }
    if score.endings:  # the stops were followed to the end
        figures["ended"] = ", ".join(f"{ENDINGS[ending]} {share:.1%}" for ending, share in score.endings.items())
        figures["remedies tried in a stop"] = f"{score.remedies:.2f}"
    figures["stops with a lost or wrong answer"] = f"{score.corrupted:.1%}"
    if missed := [s.corrupted > 0 for s in score.stops if s.place > 1]:
        told = f"{counted(len(missed), 'stop')}, {sum(missed)} with a lost or wrong answer"
        figures["cause not ranked first"] = told
    for label, figure in figures.items():
        yield f"    {label:<{LABEL - 2}}{figure}"
    if len(found.scores) > 1:
        yield from _ways(found)


def _nodes() -> int:
    from diag.practice.walk_case import NODES

    return NODES


def _by_size(share: Callable[[int], float]) -> str:
    return ", ".join(f"{share(size):.1%}" for size in SIZES)


def _ways(found: Simulated) -> Iterator[str]:
    """A line for each way in which the same stops were followed, and by how much the quick way differs."""
    yield "  the same stops, followed in each way"
    yield f"    {'':8}{HEAD}   min   cured"
    for way, score in found.scores.items():
        cured = f"{score.endings.get('cured', 0.0):6.1%}" if score.endings else ""
        yield f"    {way:8}{_row(score)}{score.minutes:6.1f}  {cured}".rstrip()
    if "quick" in found.scores and found.way != "quick":
        more, three = (found.scores["quick"].within(n) - found.score.within(n) for n in (1, 3))
        yield f"    quick less {found.way}: first {more:+.1%}, in the first three {three:+.1%}"


def _row(score: Score) -> str:
    """The figures below `HEAD`."""
    return (
        f"  {score.within(1):6.1%}  {score.within(3):6.1%}  {score.isolated(1):6.1%}  {score.brier:5.3f}"
        f"  {score.log:5.3f}  {score.calibration:6.1%}  {score.asked:6.1f}"
    )


def _causes(found: Simulated, each: bool) -> Iterator[str]:
    own = found.score.by_cause
    told = own if each else [o for o in own if o.first < o.drawn]
    if told:
        wide = max(len(o.cause) for o in told)
        yield f"  {'cause':<{wide}}  drawn  first  in 3   min  taken for"
        for o in told:
            taken = ", ".join(f"{times} x {cause}" if times > 1 else cause for cause, times in o.taken)
            yield f"  {o.cause:<{wide}}  {o.drawn:5}  {o.first:5}  {o.three:4}  {o.minutes:4.0f}  {taken}".rstrip()
    if not each:
        yield from wrapped(_left_out(len(own) - len(told), len(own), len(found.causes)), 2)


def _left_out(first: int, drawn: int, listed: int) -> str:
    """What is to be said of the causes that have no line: those that always came first, and those never drawn."""
    every = f"every one of the {drawn} causes" if drawn > 1 else "the one cause"
    told = f"{every} that {'were' if drawn > 1 else 'was'} drawn always came first" if first == drawn else ""
    told = told or (f"{counted(first, 'other cause')} always came first" if first else "no cause always came first")
    never = listed - drawn
    if not never:
        return f"{told}; all of the listed causes were drawn"
    return f"{told}; {never} of the {counted(listed, 'listed cause')} {'was' if never == 1 else 'were'} never drawn"


def _looks(label: str, found: Diagnosability, causes: Sequence[str]) -> Iterator[str]:
    yield f"  what {label} can tell apart, were every answer the likeliest"
    yield f"  {'  detected':<{LABEL}}{found.detection:.1%}"
    yield f"  {'  isolated to 1, 2, 3 causes':<{LABEL}}{_by_size(found.isolation)}"
    alike = [group for group in found.groups if len(group) > 1]
    for group in alike[:SHOWN]:
        yield from wrapped(f"alike: {', '.join(causes[c] for c in group)}", 4, 6)
    if len(alike) > SHOWN:
        yield f"    and {len(alike) - SHOWN} other groups"
    for c in _unseen(found, causes):
        yield f"    mostly shows nothing: {causes[c]}"


def _unseen(found: Diagnosability, causes: Sequence[str]) -> list[int]:
    return sorted(set(range(len(causes))).difference(*found.groups))


def table_lines(all_found: Sequence[Simulated]) -> Iterator[str]:
    """A line for each machine."""
    wide = max(len(found.machine) for found in all_found)
    yield ""
    yield f"{'machine':<{wide}}  causes{HEAD}  min"
    for found in all_found:
        yield f"{found.machine:<{wide}}  {len(found.causes):6}{_row(found.score)}  {found.score.minutes:3.0f}"


def double_lines(id: str, found: Doubles, seed: int) -> Iterator[str]:
    stops, n = found.stops, len(found.stops)
    yield ""
    yield f"{id}: {n} simulated stops with two causes, seed {seed}"
    if not n:
        yield "  fewer than two causes: nothing to draw"
        return
    yield f"  both named in the first two pairs     {found.named:.1%}, {sum(s.named for s in stops)} of {n}"
    yield f"  their pair first, in the first two    {found.within(1):.1%}, {found.within(2):.1%}"
    yield f"  one of them first as a single cause   {sum(s.single for s in stops) / n:.1%}"
    yield f"  odd for one cause before two were asked for  {sum(s.odd for s in stops) / n:.1%}"
    asked, minutes = sum(s.asked for s in stops) / n, sum(s.minutes for s in stops) / n
    yield f"  checks and minutes a stop             {asked:.1f} and {minutes:.0f} min"
    for stop in [s for s in stops if not s.named][:SHOWN]:
        yield f"    not named: {stop.causes[0]}, {stop.causes[1]}"


def without_lines(id: str, found: Noticed, seed: int) -> Iterator[str]:
    yield ""
    yield f"{id}: {len(found.stops)} simulated stops whose cause is taken out of the file, seed {seed}"
    if found.stops:
        yield f"  not in the file: first, in the first two      {found.within(1):.1%}, {found.within(2):.1%}"
        yield f"  first wrongly, with the cause in the file     {found.taken:.1%}"
        for cause, top, times in found.misses[:SHOWN]:
            yield f"    {times} x {cause}, taken for {top}"
    if found.twins:
        yield f"  not drawn, since another cause shows nearly the same: {len(found.twins)}"
        for cause, twin, bits in found.twins:
            yield f"    {cause}, like {twin} ({bits:.1f} bits)"


def simulated_object(found: Simulated, seed: int) -> dict[str, Any]:
    score = found.score
    others = {way: _figures(other) for way, other in found.scores.items() if way != found.way}
    return {
        "machine": found.machine,
        "stops": len(score.stops),
        "seed": seed,
        "way": found.way,
        "nodes": _nodes() if found.way == "advice" else None,
        **_figures(score),
        "ways": others,
        "causes": [asdict(of_cause) for of_cause in score.by_cause],
        "all_looks": _looks_object(found.all_looks, found.causes),
        "from_outside": _looks_object(found.from_outside, found.causes),
        "misses": [{"cause": true, "taken": taken, "times": n} for true, taken, n in score.misses],
    }


def _figures(score: Score) -> dict[str, Any]:
    return {
        "first": score.within(1),
        "in_three": score.within(3),
        "isolated": {size: score.isolated(size) for size in SIZES},
        "brier": score.brier,
        "log_score": score.log if math.isfinite(score.log) else None,
        "calibration": score.calibration,
        "checks": score.asked,
        "minutes": score.minutes,
        "with_bad_answers": score.corrupted,
        "endings": score.endings,
        "remedies": score.remedies,
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
    n = len(found.stops)
    return {
        "machine": id,
        "stops": n,
        "seed": seed,
        "both_named_in_two": found.named if n else None,
        "pair_first": found.within(1) if n else None,
        "pair_in_two": found.within(2) if n else None,
    }


def without_object(id: str, found: Noticed, seed: int) -> dict[str, Any]:
    n = len(found.stops)
    return {
        "machine": id,
        "stops": n,
        "seed": seed,
        "unlisted_first": found.within(1) if n else None,
        "unlisted_in_two": found.within(2) if n else None,
        "taken_wrongly": found.taken if n else None,
        "twins": [{"cause": cause, "twin": twin, "bits": bits} for cause, twin, bits in found.twins],
    }
