"""Assets: machines of one kind that share a file. What is physically so (locks, energy, holds, danger, resets, cases)
is of one of them alone, so the record knows each by a name of its own.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from typing import Final

APART: Final = "/"
"""Stands between machine and asset in the name that the record knows; no folder's name holds it."""


class NoSuchAsset(ValueError):
    """The machine has no asset of that name, or one must be named. The message is one line."""


def folded(name: str) -> str:
    """An asset's name as it is compared: without regard to case and spaces."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def recorded_as(machine: str, asset: str = "") -> str:
    """What the record knows a machine by: its id, and behind it the asset where it is one of several."""
    return f"{machine}{APART}{folded(asset)}" if asset else machine


def parted(recorded: str) -> tuple[str, str]:
    """The machine's id and the asset, folded, of what the record knows it by; the asset is empty where there is
    none."""
    machine, _, asset = recorded.partition(APART)
    return machine, asset


def spelled(assets: Sequence[str], name: str) -> str:
    """An asset as the file spells it; as it is given where the file names none like it."""
    return next((asset for asset in assets if folded(asset) == folded(name)), name)


def shown_name(recorded: str) -> str:
    """What the record knows a machine by, as people read it: `tray-stacker, stacker 1`."""
    return ", ".join(filter(None, parted(recorded)))


def no_asset(machine: str, name: str, assets: Sequence[str]) -> str:
    """Why a name means none of a machine's assets, in one line with the nearest name."""
    if not assets:
        return f"the file of {machine} names no assets, so none is to be said"
    if not name:
        return f"say which asset of {machine} is meant: {', '.join(assets)}"
    from diag.machine.names import unknown

    return unknown("asset", name, assets, of=machine)[0]
