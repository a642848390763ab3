"""A casebook that somebody else holds: the screen goes on, one entry waits, and what could not be stored is told."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from record.conftest import empty
from record.server import Server, available
from stage import ADA, EVA, OLE, Hand, Stage

from diag.record.engines import postgres_engine, sqlite_engine
from diag.tui.storing import NOT_YET, STORING

CASE = "1125-a"
HELD_BY = "another program holds the casebook"


@pytest.fixture(autouse=True)
def soon(wait_for_entries: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """A key waits for a moment alone, and an entry for less than people would bear."""
    monkeypatch.setattr("diag.tui.storing.MOMENT", 0.02)
    monkeypatch.setattr(sqlite_engine, "BUSY_MS", 300)


@pytest.fixture
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """The casebook is waited for until it is free again."""
    monkeypatch.setattr(sqlite_engine, "BUSY_MS", 60_000)


@contextmanager
def held(book: Path) -> Iterator[None]:
    """Another program is in the middle of a transaction of its own."""
    other = sqlite3.connect(book, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        other.execute("ROLLBACK")
        other.close()


async def over(hand: Hand) -> None:
    """Until nothing is being stored any more."""
    await hand.until(lambda: not hand.app.context.storing)
    await hand.settle()


async def ready(hand: Hand, *keys: str) -> None:
    """Somebody has sat down, pressed these keys, and waits for nothing."""
    for key in (*ADA, *keys):
        await hand.press(key)
        await over(hand)


async def test_the_screen_goes_on_while_an_entry_waits_and_it_is_stored_once(stage: Stage, patient: None) -> None:
    async with stage.run("mixer") as hand:
        await ready(hand)
        before = stage.kinds(CASE)
        with held(stage.book):
            await hand.press("1")
            assert STORING in hand.status
            asked = hand.text
            await hand.press("right")
            assert hand.text != asked, "the walk over the panel is painted"
            await hand.resize(140, 40)
            assert len(hand.lines) == 40
            await hand.press("2")
            assert NOT_YET in hand.status
            await hand.press("m")
            assert NOT_YET in hand.status
        await over(hand)
        assert "lit" in hand.status
        assert stage.kinds(CASE) == [*before, "found"]


async def test_what_could_not_be_stored_is_told_and_is_not_there(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await ready(hand)
        before = stage.kinds(CASE)
        with held(stage.book):
            await hand.press("1")
            await over(hand)
            assert HELD_BY in hand.words
        assert stage.kinds(CASE) == before
        assert not hand.app.context.session.case.state.facts
        await hand.press("1")
        await over(hand)
        assert stage.kinds(CASE) == [*before, "found"]


async def test_what_was_typed_is_kept_in_the_line_and_takes_no_more_meanwhile(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await ready(hand, "slash", "=display", "enter", "enter")
        with held(stage.book):
            await hand.press("=d2", "enter")
            assert STORING in hand.status
            await hand.press("7")
            assert NOT_YET in hand.status
            await over(hand)
            assert HELD_BY in hand.words
        line = hand.app.screen.query_one("#answer-typed")
        assert line.value == "d2"
        await hand.press("enter")
        await over(hand)
        assert stage.kinds(CASE).count("found") == 1


async def test_a_note_and_a_reason_stand_in_their_boxes_again(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await ready(hand)
        with held(stage.book):
            await hand.press("w", "=it hums", "enter")
            await over(hand)
            assert HELD_BY in hand.box
            assert "it hums" in hand.box
        await hand.press("enter")
        await over(hand)
        assert "Noted: it hums" in hand.status
        with held(stage.book):
            await hand.press("s", "=no ladder", "enter")
            await over(hand)
            assert "no ladder" in hand.box
        await hand.press("enter")
        await over(hand)
    assert stage.kinds(CASE)[-2:] == ["noted", "skipped"]


async def test_what_was_tapped_is_kept_until_it_is_stored(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await ready(hand)
        with held(stage.book):
            await hand.press("e", "space", "enter", "space", "space", "space", "enter")
            await over(hand)
            assert "store it now" in hand.box
            await hand.press("1")
            await over(hand)
            assert "store it now" in hand.box
        await hand.press("1")
        await over(hand)
    assert stage.kinds(CASE).count("found") == 1


async def test_a_step_of_the_lockout_waits_and_none_is_confirmed_meanwhile(stage: Stage, patient: None) -> None:
    async with stage.run("mixer") as hand:
        await ready(hand, "g")
        with held(stage.book):
            await hand.press("enter")
            assert STORING in hand.status
            await hand.press("enter")
            assert NOT_YET in hand.status
            await hand.press("escape")
            assert "LOCKOUT" in hand.text, "nobody leaves without word of what came of it"
        await over(hand)
        assert "Ada Brandt" in hand.status
        assert stage.kinds(CASE).count("gate") == 1


async def test_somebody_else_has_the_keys_only_once_that_is_stored(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await ready(hand)
        with held(stage.book):
            await hand.press("p", "=Eva", "enter", "3", "enter")
            assert "Ada Brandt" in hand.lines[0]
            await over(hand)
            assert HELD_BY in hand.words
            assert "Ada Brandt" in hand.lines[0]


async def test_whoever_leaves_is_told_what_was_not_stored(stage: Stage) -> None:
    with held_at_the_end(stage) as end:
        async with stage.run("mixer") as hand:
            await ready(hand)
            end()
            await hand.press("1", "q")
            context = hand.app.context
        words = context.parting()
    assert words.startswith("The last entry was not stored: ")
    assert "is still open" in words


async def test_whoever_leaves_waits_for_what_is_being_stored(stage: Stage, patient: None) -> None:
    with held_at_the_end(stage) as end:
        async with stage.run("mixer") as hand:
            await ready(hand)
            end()
            await hand.press("1", "q")
            context = hand.app.context
            assert context.storing
    assert "not stored" not in context.parting()
    assert stage.kinds(CASE)[-1] == "found"


@contextmanager
def held_at_the_end(stage: Stage) -> Iterator[object]:
    """From the moment when what is given is called."""
    from contextlib import ExitStack

    with ExitStack() as stack:
        yield lambda: stack.enter_context(held(stage.book))


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    pytest.importorskip("psycopg")
    if not available():
        pytest.skip("PostgreSQL is not there")
    with Server() as running:
        yield running


@pytest.fixture
def plant(server: Server, stage: Stage, monkeypatch: pytest.MonkeyPatch) -> Stage:
    monkeypatch.setattr(postgres_engine, "_OPTIONS", postgres_engine._OPTIONS.replace("=5000", "=1500"))
    empty(server.address())
    stage.book, stage.follows = server.address(), True  # type: ignore[assignment]
    return stage


async def test_what_others_enter_is_followed_while_an_entry_waits_for_a_database(plant: Stage) -> None:
    """Another program holds the row of Ada's case. Eva, in a case of her own, confirms a step at the same machine."""
    import psycopg

    async with plant.run("mixer") as ada:
        await ready(ada)
        async with plant.run("mixer") as eva:
            for key in ("n", "ctrl+u", *EVA, "2", "g"):
                await eva.press(key)
                await over(eva)
            await ada.until(lambda: "Eva" in ada.status)
            plant.seconds.ahead += 10
            with psycopg.connect(str(plant.book)) as other:
                other.execute("SELECT 1 FROM diag.head WHERE name = %s FOR UPDATE", (CASE,))
                await ada.press("1")
                assert STORING in ada.status
                await eva.press("enter")
                await over(eva)
                await ada.until(lambda: "Eva, case 1125-b: people told" in ada.status)
                assert STORING in ada.status
                assert ada.app.context.storing
                await ada.press("2")
                assert NOT_YET in ada.status
                other.rollback()
            await over(ada)
            assert plant.kinds(CASE)[-1] == "found"
            assert len(ada.app.context.session.case.state.facts) == 1


async def test_a_database_that_stays_held_is_told(plant: Stage) -> None:
    import psycopg

    async with plant.run("mixer") as ole:
        for key in OLE:
            await ole.press(key)
            await over(ole)
        before = plant.kinds(CASE)
        with psycopg.connect(str(plant.book)) as other:
            other.execute("LOCK TABLE diag.event IN EXCLUSIVE MODE")
            await ole.press("1")
            await over(ole)
            assert HELD_BY in ole.words
            other.rollback()
        assert plant.kinds(CASE) == before
