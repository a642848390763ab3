"""Expected minutes to the end of the case when remedies are tried in the best order known, and a call ends it.

For one fault, and remedies each with a chance and a cost, probability over cost is the best order (Kadane and Simon,
Annals of Statistics 5 (1977) 237-255; Heckerman, Breese and Rommelse, Communications of the ACM 38 (1995) 49-57). It
holds as long as no two remedies are for the same fault, since their chances are added up; in a machine file none are,
as a cause names one remedy.

Remedies that share a set-up (a cabinet to lock out and open) form a block: the opening comes before them all, which
makes the order a precedence forest, and the best one takes from each closed block its prefix of highest probability
over cost as one piece (Horn, SIAM Journal on Applied Mathematics 23 (1972) 189-202).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diag.reason.table.compile import Array, Index

NO_BLOCK = -1
"""The block of what fills up a row that has fewer remedies than others."""


def order(p: Array, minutes: Array, block: Index, setup: Array) -> tuple[Index, Array]:
    """The best order of remedies for each of N beliefs, and the minutes of each with its block's set-up in the first.

    `p` [N, M]: chance that the remedy ends the case. `minutes` [M] above 0, and `block` [M], the number of its block,
    may also be given for each belief, [N, M]. `setup` [B], or [N, B] for a situation each: minutes to open the block, 0
    for one that is open. Returns indices [N, M], and minutes [N, M] in that order.
    """
    own = p / minutes
    inner = np.argsort(-own, axis=1, kind="stable")
    own, p = np.take_along_axis(own, inner, axis=1), np.take_along_axis(p, inner, axis=1)
    cost = np.take_along_axis(np.broadcast_to(minutes, p.shape), inner, axis=1)
    block = np.take_along_axis(np.broadcast_to(block, p.shape), inner, axis=1)
    rank, piece, minutes = own.copy(), np.zeros(p.shape, dtype=np.intp), cost.copy()
    opening = np.broadcast_to(setup, (len(p), setup.shape[-1]))
    for b in np.flatnonzero(opening.any(axis=0)):
        member = block == b
        if not member.any():
            continue
        spent = opening[:, b, None] + np.where(member, minutes, 0.0).cumsum(axis=1)
        gained = np.where(member, p, 0.0).cumsum(axis=1)
        ratio = np.divide(gained, spent, out=np.zeros(p.shape), where=spent > 0.0)
        last = ratio.argmax(axis=1)[:, None]
        within = member & (np.arange(p.shape[1]) <= last)
        np.copyto(rank, np.take_along_axis(ratio, last, axis=1), where=within)
        piece[within] = b + 1
        cost[np.arange(len(p)), member.argmax(axis=1)] += np.where(member.any(axis=1), opening[:, b], 0.0)
    # Pieces that tie stay whole: an opened block is used up before the next one is opened.
    first = np.lexsort((-own, piece, -rank), axis=1)
    return np.take_along_axis(inner, first, axis=1), np.take_along_axis(cost, first, axis=1)


def expected(p: Array, minutes: Array, block: Index, setup: Array, call: float) -> Array:
    """Expected minutes for each of N beliefs, shape [N]: remedies in the best order, as many as pay, then the call.

    `p` [N, M], `minutes` [M], `block` [M] and `setup` are as for `order`; `call` is in minutes. A remedy that failed
    leaves the rest as they were (one fault).

    Only remedies that can pay are put in order. Whatever was tried before it, at least 1 - (the sum of all chances) is
    left to pay for the minutes of the next one. So those with p call <= (1 - sum of p) minutes lengthen any sequence,
    and so does every piece with one of them in it, since a piece has at most the ratio of its worst remedy.
    """
    left = np.maximum(1.0 - p.sum(axis=1), 0.0)[:, None]
    row, remedy = np.nonzero(p * (call / minutes) > left)
    return expected_of_few(
        row, p[row, remedy], minutes[remedy], block[remedy], np.broadcast_to(setup, (len(p), setup.shape[-1])), call
    )


def expected_of_few(row: Index, p: Array, minutes: Array, block: Index, setup: Array, call: float) -> Array:
    """The same, [N], where each belief has remedies of its own: one in each place of `row`, `p`, `minutes`, `block`.

    `row` holds the number of the belief, `setup` [N, B]."""
    count = np.bincount(row, minlength=len(setup))
    shape = len(setup), int(count.max(initial=0))
    if not shape[1]:
        return np.full(len(setup), call)
    by_row = np.argsort(row, kind="stable")
    at = row[by_row], np.arange(len(row)) - (np.cumsum(count) - count)[row[by_row]]
    few_p, few_minutes, few_block = np.zeros(shape), np.ones(shape), np.full(shape, NO_BLOCK)
    few_p[at], few_minutes[at], few_block[at] = p[by_row], minutes[by_row], block[by_row]
    first, cost = order(few_p, few_minutes, few_block, setup)
    return np.asarray(sequence(np.take_along_axis(few_p, first, axis=1), cost, call).min(axis=1))


def sequence(p: Array, cost: Array, call: float) -> Array:
    """Expected minutes when the first 0, 1 .. M remedies of each row are tried and then the call is made.

    Shape [N, M + 1]."""
    left = np.ones((len(p), p.shape[1] + 1))
    np.clip(1.0 - p.cumsum(axis=1), 0.0, 1.0, out=left[:, 1:])
    spent = left * call
    spent[:, 1:] += (cost * left[:, :-1]).cumsum(axis=1)
    return spent


def blocks(keys: Sequence[tuple[str, str]]) -> Index:
    """[M]: numbers for (access, zone) pairs, the same for equal ones."""
    number = {key: n for n, key in enumerate(dict.fromkeys(keys))}
    return np.array([number[key] for key in keys], dtype=np.intp)
