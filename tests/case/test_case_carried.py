"""What is carried over a machine's rest: a later case begins there, and stands as if all had been replayed."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from case_steps import ANN, BOB, Ticking, go_back, lock_out

from diag.case.case import Case
from diag.case.log import events as e
from diag.case.log.carried import SITTINGS, Carried, read_carried
from diag.case.log.others import DAY, Others
from diag.case.log.replay import replay
from diag.case.log.stored import stream_of
from diag.machine.model import Machine
from diag.record.casebook import Casebook

AT = datetime(2030, 1, 2, 3, 4, 5, tzinfo=UTC)
SECOND = timedelta(seconds=1)


def whole(**changed: object) -> Carried:
    others = Others(frozenset({"b", "a"}), (AT - DAY + SECOND, AT), 3, frozenset({"c"}), frozenset({"d"}))
    plain = {"others": others, "states": {"lamp": "dark"}, "sat": {("s1", "Änne"): None, ("s2", "Bob"): None}}
    return Carried(**{**plain, **changed})  # type: ignore[arg-type]


def test_what_is_written_is_read_again() -> None:
    assert read_carried(whole().text(AT)) == whole()
    assert read_carried(Carried().text(AT)) == Carried()
    assert list(read_carried(whole().text(AT)).sat) == [("s1", "Änne"), ("s2", "Bob")]
    assert "Änne" in whole().text(AT)


def test_a_reset_is_carried_for_a_day() -> None:
    for ago, kept in ((DAY - SECOND, True), (DAY, False), (DAY + SECOND, False)):
        one = whole(others=Others(resets=(AT - ago,), since_cure=1))
        assert bool(read_carried(one.text(AT)).others.resets) is kept, ago
        assert read_carried(one.text(AT)).others.since_cure == 1, "and is counted until the next cure"


def test_the_latest_sittings_are_carried() -> None:
    sat = {(f"s{n}", "Ann"): None for n in range(SITTINGS + 2)}
    kept = list(read_carried(whole(sat=sat).text(AT)).sat)
    assert len(kept) == SITTINGS
    assert kept[0] == ("s2", "Ann")
    assert kept[-1] == (f"s{SITTINGS + 1}", "Ann")


GOOD = json.loads(whole().text(AT))


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "7",
        "[]",
        "[" * 5000,
        json.dumps({**GOOD, "form": 1}),
        json.dumps({**GOOD, "resets": ["2030-01-02T03:04:05"]}),
        json.dumps({**GOOD, "resets": ["yesterday"]}),
        json.dumps({**GOOD, "resets": 7}),
        json.dumps({**GOOD, "since_cure": "three"}),
        json.dumps({**GOOD, "states": ["lamp"]}),
        json.dumps({**GOOD, "sat": [["s1"]]}),
        *(json.dumps({k: v for k, v in GOOD.items() if k != gone}) for gone in GOOD),
    ],
)
def test_what_cannot_be_read_is_said_to_be_none(text: str) -> None:
    with pytest.raises(ValueError, match="this is not what was carried on"):
        read_carried(text)


def test_a_later_case_stands_as_if_all_had_been_replayed(mixer: Machine, tmp_path: Path) -> None:
    book, clock = Casebook(tmp_path / "cases.db"), Ticking()
    first = Case.open(mixer, ANN, book=book, clock=clock)
    first.say("box-display", "G0")
    first.post(e.ResetDone(reset="panel-reset"))
    first.say("panel-reset", "back-later")
    first.say("box-display", "d2")
    lock_out(first)
    go_back(first)
    first.post(e.Closed(outcome="running"))
    later = Case.open(mixer, BOB, book=book, clock=clock)
    short, long = stream_of(book, later.id), stream_of(book, later.id, whole=True)
    assert short.carried is not None
    assert long.carried is None
    assert len(short.entries) < len(long.entries)
    anew = replay(mixer, later.id, long.entries).projection().state
    again = replay(mixer, later.id, short.entries, short.carried).projection().state
    assert again.entered, "whoever entered something since the rest"
    assert set(again.entered) <= set(anew.entered)
    assert replace(again, entered=()) == replace(anew, entered=())
    (count,) = later.state.resets
    assert not count.may
    assert count.because.startswith("A protective device has operated."), "in the case before"
