"""Danger signs: what goes before everything, found from the facts as they stand."""

from __future__ import annotations

from collections.abc import Mapping

from diag.machine.model import Danger, Machine


def danger(machine: Machine, standing: Mapping[str, str]) -> Danger | None:
    """The first danger sign of the file that the latest state of each indication shows; all of its `when` must hold."""
    for sign in machine.dangers:
        if sign.when and all(standing.get(indication) in states for indication, states in sign.when):
            return sign
    return None
