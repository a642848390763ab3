"""What one key costs: hops from its handler to the door of the case, and paints of each pane."""

from __future__ import annotations

import sys
import threading
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from stage import ADA, OLE, Hand, Stage

import diag
from diag.case.case import Case
from diag.tui.case_session import CaseSession
from diag.tui.widgets.written import Written

MOST_HOPS = 6
ROOM = str(Path(diag.__file__).parent)


@pytest.fixture
def hops(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """For each event that is posted: the functions of diag from the key's handler to `Case.draft`, both counted."""
    found: list[list[str]] = []
    real = Case.draft

    def draft(case: Case, *args: object) -> object:
        names, frame = ["draft"], sys._getframe(1)
        while frame is not None:
            if frame.f_code.co_filename.startswith(ROOM):
                names.insert(0, frame.f_code.co_name)
            frame = frame.f_back  # type: ignore[assignment]
        found.append(names)
        return real(case, *args)  # type: ignore[arg-type]

    monkeypatch.setattr(Case, "draft", draft)
    return found


KEYS = {
    "a digit": ("1",),
    "nobody can tell": ("0",),
    "a code with Enter": ("slash", "=display", "enter", "enter", "=d2", "enter"),
    "set aside": ("s", "2"),
    "a call": ("c", "1"),
    "a note": ("w", "=it hums", "enter"),
    "a remedy": ("3", "2", "enter", "enter"),
    "taken back": ("1", "u"),
}


@pytest.mark.parametrize("keys", KEYS.values(), ids=KEYS)
async def test_six_hops_at_most_from_a_key_to_the_case(stage: Stage, hops: list[list[str]], keys: tuple[str]) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA)
        hops.clear()
        await hand.press(*keys)
    assert hops
    assert all(len(names) <= MOST_HOPS for names in hops), hops


@pytest.fixture
def held(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """The advice is held up while this is not set."""
    go, real = threading.Event(), CaseSession.advice

    def advice(session: CaseSession) -> object:
        assert go.wait(120)
        return real(session)

    monkeypatch.setattr(CaseSession, "advice", advice)
    go.set()
    yield go
    go.set()


@pytest.fixture
def paints(monkeypatch: pytest.MonkeyPatch) -> Counter[tuple[str, int]]:
    """How often each row of each pane was painted; what is kept of it from before is not painted anew."""
    found: Counter[tuple[str, int]] = Counter()
    real = Written.render_line

    def render_line(pane: Written, y: int) -> object:
        found[pane.id or type(pane).__name__, y] += 1
        return real(pane, y)

    monkeypatch.setattr(Written, "render_line", render_line)
    return found


def by_pane(paints: Counter[tuple[str, int]]) -> dict[str, int]:
    """How often each pane was painted: as often as its row that was painted most."""
    found: dict[str, int] = {}
    for (pane, _), times in paints.items():
        found[pane] = max(found.get(pane, 0), times)
    paints.clear()
    return found


async def painted(
    hand: Hand, paints: Counter[tuple[str, int]], held: threading.Event, key: str
) -> tuple[dict[str, int], dict[str, int]]:
    """The paints of a key at once, and those of the advice that follows."""
    held.clear()
    paints.clear()
    await hand.key(key)
    first = by_pane(paints)
    held.set()
    await hand.settle()
    return first, by_pane(paints)


@pytest.mark.parametrize("size", [(80, 24), (140, 40)])
async def test_each_pane_is_painted_once_for_a_key(
    stage: Stage, held: threading.Event, paints: Counter[tuple[str, int]], size: tuple[int, int]
) -> None:
    """What the key changed is painted at once, and what the advice changed when it is there; both never the same, but
    for the panel, on which the mark goes on to what the advice asks for."""
    async with stage.run("mixer", size=size) as hand:
        await hand.press(*OLE)
        for key in ("1", "u", "3", "1", "0", "right", "2", "down", "n", "a", "t", "t", "u"):
            first, then = await painted(hand, paints, held, key)
            assert first or key == "t", "where all pages show at once there is none to turn"
            assert max(first.values(), default=1) == 1, (key, first)
            assert max(then.values(), default=1) == 1, (key, then)
            assert set(first) & set(then) <= {"panel"}, (key, first, then)
