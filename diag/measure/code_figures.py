"""How often a code on a display is taken right when segments are dark or stuck, and the decoder against the best."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from diag.machine.model import Indication, Machine
from diag.measure import decode_trials as trials
from diag.measure.decode_trials import Taken
from diag.measure.measurement import Measurement
from diag.panel.display.decode import Reading
from diag.panel.display.segments import NoGlyph, glyph

BLANK: Final = "blank"
MISTAKES_SHOWN: Final = 3
WIDE: Final = 80


@dataclass(frozen=True, slots=True)
class Rates:
    """Shares of codes taken right, each code as often."""

    right: float
    """Over all displays, with a fault or without."""
    healthy: float
    with_fault: float


def measure(machine: Machine, done: Callable[[int], None] = lambda codes: None) -> Measurement:
    """Every code of every display of the machine. Good when the decoder reaches the best rate on the LED display domain
    and no code is taken for another one on a healthy display."""
    led, ties = _led_domain(), _led_ties()
    tables = {d.id: _table(d, done) for d in displays(machine)}
    every = [taken for table in tables.values() for taken in table or ()]
    mistaken = [taken for taken in every if _mistaken(taken)]
    lines = [*_led_lines(led, ties)]
    for id, table in tables.items():
        lines += ["", *_display_lines(machine.id, id, table)]
    if not tables:
        lines += ["", f"{machine.id} has no display"]
    figures: dict[str, float | int | str] = {f"led_{name}": rate for name, rate in led.items()}
    figures |= {"led_ties": ties, "displays": len(tables), "codes": len(every)}
    if every:
        pooled = rates(every)
        figures |= {
            "right": pooled.right,
            "right_healthy": pooled.healthy,
            "right_with_fault": pooled.with_fault,
        }
        lines += [
            "",
            f"all {len(every)} codes of {machine.id}, each as often: over all displays {pooled.right:.2%}, "
            f"healthy {pooled.healthy:.2%}, with one fault {pooled.with_fault:.1%}",
        ]
    for taken in mistaken:
        share = f"{taken.healthy.get(taken.state, 0.0):.1%}"
        lines.append(f"WRONG on a healthy display {_shown(taken)} is taken for {taken.state} in {share} only")
    details = {
        "led_domain": led,
        "machine": machine.id,
        "displays": [_as_object(id, table) for id, table in tables.items()],
    }
    good = led["best"] == led["decoder_told"] == float(trials.LED_BEST) and not mistaken
    return Measurement("codes", good, figures, lines, details)


def displays(machine: Machine) -> list[Indication]:
    """What shows codes on it."""
    return [indication for indication in machine.indications.values() if indication.codes]


def rates(table: Sequence[Taken]) -> Rates:
    """The mean over the codes; there must be one at least."""
    n = len(table)
    return Rates(
        sum(t.right for t in table) / n,
        sum(t.healthy.get(t.state, 0.0) for t in table) / n,
        sum(t.faulty.get(t.state, 0.0) for t in table) / n,
    )


def _led_domain() -> dict[str, float]:
    digits, flip = trials.LED_DIGITS, trials.LED_FLIP
    return {
        "published": trials.LED_PUBLISHED,
        "best": float(trials.bayes_rate([glyph(c) for c in digits], flip, flip)),
        "decoder_told": float(trials.decoder_rate(digits, flip, flip, Reading(toggled=float(flip)))),
        "decoder": float(trials.decoder_rate(digits, flip, flip)),
    }


def _led_ties() -> int:
    return trials.tied_observations([glyph(c) for c in trials.LED_DIGITS], trials.LED_FLIP, trials.LED_FLIP)


def _led_lines(led: dict[str, float], ties: int) -> list[str]:
    return [
        "LED display domain: ten digits, each segment inverted with chance 0.1",
        "(Breiman, Friedman, Olshen and Stone 1984, pp. 43-49)",
        f"  best possible rate, as published                 {led['published']:.2f}",
        f"  the same by enumeration                          {led['best']:.8f}",
        f"  of 128 observations, with several best digits    {ties}",
        f"  the decoder, told the chance of an inversion     {led['decoder_told']:.8f}",
        f"  the decoder as it is, with its own chances       {led['decoder']:.8f}",
    ]


def _table(display: Indication, done: Callable[[int], None]) -> list[Taken] | None:
    """None where a code has no shape on seven segments."""
    codes = [(c.pattern, c.state) for c in display.codes]
    rows = []
    try:
        for row in (
            trials.step_confusion(codes) if display.scrolls else trials.confusion(codes, digits=display.characters)
        ):
            rows.append(row)
            done(1)
    except NoGlyph:
        return None
    return rows


def _mistaken(taken: Taken) -> bool:
    """Whether a healthy display leaves a doubt; not with `?`, which may look like a character of another code."""
    return "?" not in taken.pattern and taken.healthy.get(taken.state, 0.0) < 0.999


def _shown(taken: Taken) -> str:
    return taken.pattern if taken.pattern.strip() else BLANK


def _display_lines(machine: str, id: str, table: list[Taken] | None) -> list[str]:
    if table is None:
        return [f"{machine}, {id}: not measured; its codes have no shape on seven segments"]
    found = rates(table)
    wide = max(len("state"), *(len(t.state) for t in table))
    code = max(len("code"), *(len(_shown(t)) for t in table))
    lines = [
        f"{machine}, {id}: {len(table)} codes, each as often; taken right in percent",
        f"  over all displays {found.right:.2%}, healthy {found.healthy:.2%}, with one fault {found.with_fault:.1%}",
        f"  a display has a fault with chance {table[0].fault:.1%}, which is an assumption",
        "",
        f"{'code':<{code}}  {'state':<{wide}} {'all':>6} {'fault':>6}  with a fault taken for",
    ]
    room = WIDE - (code + wide + 19)
    for t in table:
        first, *more = _fitting(_mistakes(t), room)
        shares = f"{100 * t.right:6.2f} {100 * t.faulty.get(t.state, 0.0):6.1f}"
        lines.append(f"{_shown(t):<{code}}  {t.state:<{wide}} {shares}  {first}".rstrip())
        lines += [" " * (WIDE - room) + line for line in more]
    return lines


def _mistakes(taken: Taken) -> list[str]:
    others = sorted((-share, state) for state, share in taken.faulty.items() if state != taken.state)
    shown = [f"{state} {-100 * share:.1f}" for share, state in others[:MISTAKES_SHOWN]]
    return shown + ([f"{len(others) - MISTAKES_SHOWN} more"] if len(others) > MISTAKES_SHOWN else [])


def _fitting(words: list[str], room: int) -> list[str]:
    """Joined by commas into lines of that width; one line at least."""
    lines = [""]
    for word in words:
        longer = f"{lines[-1]}, {word}" if lines[-1] else word
        if len(longer) < room or not lines[-1]:
            lines[-1] = longer
        else:
            lines[-1] += ","
            lines.append(word)
    return lines


def _as_object(id: str, table: list[Taken] | None) -> dict[str, Any]:
    if table is None:
        return {"display": id, "measured": False, "codes": []}
    found = rates(table)
    return {
        "display": id,
        "measured": True,
        "fault": table[0].fault,
        "right": found.right,
        "right_healthy": found.healthy,
        "right_with_fault": found.with_fault,
        "codes": [
            {"pattern": t.pattern, "state": t.state, "right": t.right, "healthy": t.healthy, "with_fault": t.faulty}
            for t in table
        ],
    }
