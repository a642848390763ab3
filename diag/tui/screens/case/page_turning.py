"""Causes, evidence and facts at the lower right: where there is no room for all three, one shows at a time."""

from __future__ import annotations

from textual.screen import Screen

from diag.case.snapshot import CaseState

PAGES = ("causes", "why", "facts")
"""The classes of the style sheet, in the order in which a key turns the pages."""


class PageTurning:
    """Knows which page shows, and heads the panes."""

    def __init__(self, screen: Screen[None]) -> None:
        self._screen = screen
        self._page = 0

    def to(self, page: int) -> None:
        self._page = page % len(PAGES)
        for n, name in enumerate(PAGES):
            self._screen.set_class(n == self._page, f"-page-{name}")

    def on(self) -> None:
        self.to(self._page + 1)

    def to_evidence(self) -> None:
        """Shows the evidence, if the facts are in its place."""
        if PAGES[self._page] == "facts":
            self.to(PAGES.index("why"))

    def head(self, state: CaseState, advised: CaseState) -> None:
        """Heads each pane; where one shows at a time, with what `t` turns to. `advised`: the state that the
        advice is for."""
        causes, why = "LIKELY CAUSES", "FOR AND AGAINST"
        heads = {"#causes": (causes, why), "#evidence": (why, _facts(advised)), "#facts": (_facts(state), causes)}
        for id, (name, turn) in heads.items():
            title = name + (f" · t {turn.lower()}" if self._screen.has_class("-narrow") else "")
            if (pane := self._screen.query_one(id)).border_title != title:
                pane.border_title = title


def _facts(state: CaseState) -> str:
    return f"FACTS {len(state.facts)}" + (f" · ROUND {state.round}" if state.round > 1 else "")
