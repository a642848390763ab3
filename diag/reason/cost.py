"""Expected minutes to the end of the case when remedies are tried in the best order known, and a call ends it.

One fault, each remedy with a chance and a cost: probability over cost is the best order (Kadane and Simon, Annals of
Statistics 5 (1977) 237-255; Heckerman, Breese and Rommelse, Communications of the ACM 38 (1995) 49-57), as long as no
two remedies are for the same fault, for their chances are added up. Where they overlapped, the order would be the
greedy one and the minutes too few; a machine file has none such, as a cause names one remedy.

Remedies that share a set-up (a cabinet to lock out and open) form a block: the opening comes before them all, which
makes the order a precedence forest, and the best one takes from each closed block its prefix of highest probability
over cost as one piece (Horn, SIAM Journal on Applied Mathematics 23 (1972) 189-202).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diag.reason.compile import Array, Index

TINY = 1e-12


def order(p: Array, minutes: Array, block: Index, setup: Array) -> tuple[Index, Array]:
    """The best order of remedies for each of N beliefs, and the minutes of each with its block's set-up in the first.

    `p` [N, M]: chance that the remedy ends the case; `minutes` [M] above 0; `block` [M]: the number of its block;
    `setup` [B], or [N, B] for a situation each: minutes to open the block, 0 for one that is open. Returns indices
    [N, M] and minutes [N, M] by remedy.
    """
    own = p / minutes
    rank = own.copy()
    piece = np.zeros(p.shape, dtype=np.intp)
    cost = np.broadcast_to(minutes, p.shape).copy()
    rows = np.arange(len(p))[:, None]
    opening = np.broadcast_to(setup, (len(p), setup.shape[-1]))
    for b in np.flatnonzero(opening.any(axis=0)):
        members = np.flatnonzero(block == b)
        if not members.size:
            continue
        inner = members[np.argsort(-own[:, members], axis=1, kind="stable")]
        ratio = p[rows, inner].cumsum(axis=1) / (opening[:, b, None] + minutes[inner].cumsum(axis=1))
        last = ratio.argmax(axis=1)[:, None]
        within = np.arange(members.size) <= last
        rank[rows, inner] = np.where(within, ratio[rows, last], own[rows, inner])
        piece[rows, inner] = np.where(within, b + 1, 0)
        cost[rows[:, 0], inner[:, 0]] += opening[:, b]
    # Pieces that tie stay whole: an opened block is used up before the next one is opened.
    return np.lexsort((-own, piece, -rank), axis=1), cost


def expected(p: Array, minutes: Array, block: Index, setup: Array, call: float) -> Array:
    """Expected minutes for each of N beliefs, shape [N]: remedies in the best order, as many as pay, then the call.

    Arguments as for `order`; `call` in minutes. A remedy that failed leaves the rest as they were (one fault)."""
    if not p.shape[1]:
        return np.full(len(p), call)
    first, cost = order(p, minutes, block, setup)
    rows = np.arange(len(p))[:, None]
    return np.asarray(sequence(p[rows, first], cost[rows, first], call).min(axis=1))


def sequence(p: Array, cost: Array, call: float) -> Array:
    """Expected minutes when the first 0, 1 .. M remedies of each row are tried and then the call is made.

    Shape [N, M + 1]."""
    left = np.ones((len(p), p.shape[1] + 1))
    np.clip(1.0 - p.cumsum(axis=1), 0.0, 1.0, out=left[:, 1:])
    spent = left * call
    spent[:, 1:] += (cost * left[:, :-1]).cumsum(axis=1)
    return spent


def blocks(keys: Sequence[tuple[str, str]]) -> tuple[Index, tuple[tuple[str, str], ...]]:
    """Numbers for equal (access, zone) pairs: [M], and the pairs in the order of their numbers."""
    names = tuple(dict.fromkeys(keys))
    return np.array([names.index(k) for k in keys], dtype=np.intp), names
