"""The one next thing and its alternatives, with the reason for each in words.

The authored tree leads while it can: as long as it asks for something that this person may look for, instructs, or
calls. Where it ends, has no branch, or asks for what nobody could tell or this role may not do, the computed advice
goes on over the same facts. A reset waits for its outcome and a remedy for its proof before anything else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from diag.case import actions, prove, telling
from diag.case.folded import Folded
from diag.case.snapshot import Action, Advice
from diag.case.weighing import Weighing
from diag.case.words import answered, listed, shown_state, title_of
from diag.machine.model import Access, Check, Machine, Role
from diag.reason.advise import Choice, Plan
from diag.tree.walk import Ask, CallFor, Concluded, Ended, Instruct, NoBranch, Stand, Unknown, walk

OTHERS = 3
"""Most alternatives."""
WORTH_NAMING = 0.1
"""The remedy of the likeliest cause is named when that cause is at least this likely, though others come cheaper."""


def advise(machine: Machine, folded: Folded, weighing: Weighing) -> Advice:
    """What to show: the ranking, the checks worth their minutes, the next thing, and what the tree says."""
    return _Adviser(machine, folded, weighing).advice()


def barred(machine: Machine, folded: Folded) -> frozenset[str]:
    """What is not offered: set aside, failed once, or asking for nothing but what was answered in this round. The same
    look again is no new evidence, and what nobody could tell nobody can."""
    here = {f.indication for f in folded.evidence if f.round == folded.state.round}
    answered = here.union(folded.state.cannot_tell)
    idle = (c.id for c in machine.checks.values() if answered.issuperset(c.gives))
    return folded.skipped | frozenset(folded.failed) | frozenset(idle)


def looking(folded: Folded) -> bool:
    """Whether the stop itself is looked into; not closed, in danger, at a reset's outcome or a remedy's proof."""
    state = folded.state
    over = state.closed or state.danger or folded.awaiting or state.remedy
    return not over and state.banner.level != "stop"


class _Adviser:
    def __init__(self, machine: Machine, folded: Folded, weighing: Weighing) -> None:
        self.machine, self.folded, self.state = machine, folded, folded.state
        self.role = folded.state.person.role
        self.likely = weighing.likely(folded)
        found = weighing.oddity(folded)
        self.surprise = found.bits if found else None
        self.odd = weighing.odd(folded)
        self.p = {cause.id: cause.probability for cause in self.likely}
        self.stopped = bool(self.state.closed or self.state.danger)
        self.barred = barred(machine, folded)
        self._weighing = weighing

    def advice(self) -> Advice:
        if self.stopped:
            return self._advice((), None, ())
        if self.folded.awaiting:
            return self._advice((), actions.of_outcome(self.machine, self.machine.resets[self.folded.awaiting]), ())
        if self.state.banner.level == "stop":
            return self._advice((), self._call(Role.ENGINEER, why=self.state.banner.title + ". Keep out."), ())
        if self.state.remedy:
            next, others, says = prove.next_of(self.machine, self.folded)
            return self._advice((), next, others[:OTHERS], says)
        return self._looking()

    def _advice(
        self, checks: tuple[Action, ...], next: Action | None, others: tuple[Action, ...], says: str = ""
    ) -> Advice:
        return Advice(self.likely, self.surprise, checks, next, others, says, self.odd)

    # ------------------------------------------------------------ the stop itself

    def _looking(self) -> Advice:
        plan = self._weighing.plan(self.folded, self.barred)
        following = (*plan.checks[1:], None)
        checks = tuple(self._check(choice, after) for choice, after in zip(plan.checks, following, strict=False))
        remedies = tuple(self._remedy(choice) for choice in plan.remedies)
        stand = (
            walk(
                self.machine,
                self.machine.start,
                self.folded.known,
                frozenset(self.state.cannot_tell),
                self.folded.did,
            )
            if self.machine.start in self.machine.trees
            else None
        )
        led, says = self._by_tree(stand, checks)
        # What looking further ahead took the lead from: whoever has begun to read it finds it still there.
        before = (self._action(plan.before),) if plan.before else ()
        computed = self._computed(plan, checks, before)
        next = led or computed
        call = self._call(self._whom())
        pool = [computed, *before, *checks[: OTHERS - 1], *self._likeliest_remedy(), *remedies[:1], call]
        if self.role is Role.OPERATOR:
            if next.kind == "call" and (looks := self._to_mark()):
                # What a call will ask for comes before it; once it was made there is no hurry for it.
                called = next.id in self.state.called
                pool = [*looks, *pool] if called else [next, *looks[1:], *pool]
                next = next if called else looks[0]
            pool = [*self._dangers(), *pool]
        others: dict[tuple[str, str], Action] = {}
        for action in pool:
            if (action.kind, action.id) != (next.kind, next.id):
                others.setdefault((action.kind, action.id), action)
        return self._advice(checks, next, tuple(others.values())[:OTHERS], says)

    def _computed(self, plan: Plan, checks: tuple[Action, ...], before: tuple[Action, ...]) -> Action:
        """The best thing by the plan; of a check that is listed the line that tells what the next one saves less."""
        best = next((a for a in checks if plan.best.kind == "check" and a.id == plan.best.id), None)
        best = best or self._action(plan.best, due=True)
        told = [telling.further(a.title, plan.sooner) for a in before]
        if plan.best.kind == "remedy":
            told.insert(0, self._sooner(plan))
        return replace(best, why=" ".join(filter(None, (best.why, *told))))

    def _sooner(self, plan: Plan) -> str:
        """Why a remedy comes first though another is for the likeliest cause and worth trying too; else empty."""
        top = next((self.machine.causes[c.id] for c in self.likely if c.id in self.machine.causes), None)
        later = next((r for r in plan.remedies[1:] if top and top.remedy and r.id == top.remedy.id), None)
        return telling.sooner(plan.best, later, top, self.p[top.id]) if top and later else ""

    def _action(self, choice: Choice, due: bool = False) -> Action:
        match choice.kind:
            case "check":
                return self._check(choice, None)
            case "remedy":
                return self._remedy(choice)
        return self._call(self._whom(), due=due)

    def _likeliest_remedy(self) -> tuple[Action, ...]:
        """The remedy of the likeliest cause that this role may treat: within reach whatever the minutes say."""
        for likely in self.likely:
            cause = self.machine.causes.get(likely.id)
            if cause is None or cause.remedy is None or likely.probability < WORTH_NAMING:
                continue
            if self.role in cause.remedy.who and cause.remedy.id not in self.barred:
                why = telling.of_remedy(self.machine, cause.remedy, self.p)
                return (actions.of_remedy(self.machine, self.folded, cause.remedy, why=why, now=self.p),)
        return ()

    def _check(self, choice: Choice, after: Choice | None) -> Action:
        machine, check = self.machine, self.machine.checks[choice.id]
        why, leads = telling.of_check(machine, choice, after), telling.leads(machine, choice)
        return actions.of_check(machine, self.folded, check, why=why, saved=choice.saved, leads=leads)

    def _remedy(self, choice: Choice) -> Action:
        remedy = self.machine.remedies[choice.id]
        why = telling.of_remedy(self.machine, remedy, self.p)
        return actions.of_remedy(self.machine, self.folded, remedy, why=why, now=self.p)

    def _call(self, role: Role, why: str = "", by_tree: bool = False, due: bool = False) -> Action:
        why = why or telling.of_call(self.folded, role, due)
        return actions.of_call(self.machine, role, why=why, by_tree=by_tree, called=role.value in self.state.called)

    def _whom(self) -> Role:
        """An operator calls the electrician when the likely remedies are an electrician's; else it is engineering."""
        if self.role is not Role.OPERATOR or Role.ELECTRICIAN not in self.machine.call:
            return Role.ENGINEER
        theirs = sum(
            self.p[cause.id]
            for cause in self.machine.causes.values()
            if cause.remedy is not None and Role.ELECTRICIAN in cause.remedy.who
        )
        return Role.ELECTRICIAN if theirs >= 0.5 else Role.ENGINEER

    def _to_mark(self) -> list[Action]:
        """Before a call: whether anything is dangerous, and what the front shows, where nobody has said it. It is what
        will be asked first."""
        front = (i for block in self.machine.face for row in block.rows for i in row)
        found = self._looks((*(i for sign in self.machine.dangers for i, _ in sign.when), *front))
        more = f" {len(found) - 1} more after it." if len(found) > 1 else ""
        why = f"Mark it before you call: it will be asked.{more}"
        return [
            replace(actions.of_check(self.machine, self.folded, check, why=why), before_call=True)
            for check in found[: OTHERS - 1]
        ]

    def _dangers(self) -> list[Action]:
        """The question that leads to a danger sign, as long as nobody has answered it: what it tells goes before
        everything, and no lamp tells it."""
        why = "What is dangerous goes before everything else, and no lamp tells it."
        asked = (i for sign in self.machine.dangers for i, _ in sign.when)
        return [actions.of_check(self.machine, self.folded, check, why=why) for check in self._looks(asked)[:1]]

    def _looks(self, indications: Iterable[str]) -> list[Check]:
        """The checks from outside that tell those of them that were neither found nor beyond telling."""
        found: dict[str, Check] = {}
        for id in indications:
            if id not in self.state.standing and id not in self.state.cannot_tell:
                check = self._way(id)
                if check is not None and check.access is Access.OUTSIDE:
                    found.setdefault(check.id, check)
        return list(found.values())

    # ------------------------------------------------------------ the tree

    def _by_tree(self, stand: Stand | None, checks: tuple[Action, ...]) -> tuple[Action | None, str]:
        """What the tree leads to, or None with the reason in words."""
        machine = self.machine
        match stand:
            case Ask(tree=tree, indication=indication, why=why):
                return self._asked(tree, indication, why, checks)
            case Instruct(tree=tree, text=text):
                return actions.of_instruction(tree, text, f"The tree “{machine.trees[tree].title}” says so."), ""
            case Concluded(causes=causes):
                return None, f"The tree points to: {listed((machine.causes[c].title for c in causes), 'or')}."
            case CallFor(role=role):
                whom = _role(role)
                if whom is self.role or whom.value in self.state.called:
                    return None, f"The tree says: call the {whom.value}. What follows is worked out from the facts."
                return self._call(whom, "The tree has no further look for this: call.", by_tree=True), ""
            case NoBranch(indication=indication, state=state):
                found = answered(title_of(machine, indication), shown_state(machine.indications[indication], state))
                return None, f"The tree has no branch for {found}. What follows is worked out from the facts."
            case Unknown(indication=indication):
                return None, _instead(f"The tree asks for {title_of(machine, indication)}, which nobody could tell.")
            case Ended():
                return None, _instead("The tree ends here.")
        return None, ""

    def _asked(self, tree: str, indication: str, why: str, checks: tuple[Action, ...]) -> tuple[Action | None, str]:
        check = self._way(indication)
        if check is None:
            ours = any(self.role in c.who for c in self.machine.checks_for.get(indication, ()))
            because = "which was set aside or cannot be told now" if ours else "which is for another role"
            return None, _instead(f"The tree asks for {title_of(self.machine, indication)}, {because}.")
        computed = next((a for a in checks if a.id == check.id), None)
        why = why or (computed.why if computed else "") or f"The tree “{self.machine.trees[tree].title}” asks for it."
        saved, leads = (computed.saved, computed.leads) if computed else (0.0, ())
        ask = actions.of_check(self.machine, self.folded, check, why=why, saved=saved, by_tree=True, leads=leads)
        return ask, ""

    def _way(self, indication: str) -> Check | None:
        """The check by which this person finds it: one that is open now, else the first that may be opened."""
        barred = self.folded.skipped
        ways = [
            c
            for c in self.machine.checks_for.get(indication, ())
            if self.role in c.who and c.id not in barred and _fits(c.needs, self.folded.known)
        ]
        open_ = [c for c in ways if actions.permitted(self.machine, self.folded, c).now]
        reachable = [c for c in ways if actions.permitted(self.machine, self.folded, c).way != "call"]
        return next(iter((*open_, *reachable)), None)


def _fits(needs: Mapping[str, tuple[str, ...]], known: Mapping[str, str]) -> bool:
    """Nothing that is known speaks against what the check needs."""
    return all(known.get(i, states[0]) in states for i, states in needs.items() if states)


def _instead(text: str) -> str:
    return f"{text} What follows is worked out from the facts."


def _role(text: str) -> Role:
    """The role that a tree calls for; engineering where it is none of ours."""
    try:
        return Role(text)
    except ValueError:
        return Role.ENGINEER
