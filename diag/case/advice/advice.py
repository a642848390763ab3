"""The one next thing and its alternatives, with the reason for each in words.

The authored tree leads while it asks for something that this person may look for, instructs, or calls. Where it ends,
has no branch, or asks for what nobody could tell or this role may not do, the computed advice goes on over the same
facts. The outcome of a reset and the proof of a remedy come before anything else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from diag.case.advice import actions, rationale
from diag.case.advice import proving as prove
from diag.case.advice.weighing import Weighing
from diag.case.log.projection import Projection, permitted, tree_position
from diag.case.phrases import answered, listed, shown_state, title_of
from diag.case.snapshot import Action, Advice
from diag.machine.model import Access, Check, Machine, Remedy, Role
from diag.reason.advice.one_step import Plan, PlannedAction
from diag.tree.walk import Ask, CallFor, Concluded, Ended, Instruct, NoBranch, TreePosition, Unknown

OTHERS = 3
"""Most alternatives."""
WORTH_NAMING = 0.1
"""The remedy of the likeliest cause is named when that cause is at least this likely, though others come cheaper."""


def advise(machine: Machine, projection: Projection, weighing: Weighing) -> Advice:
    """What to show: the ranking, the checks worth their minutes, the next thing, and what the tree says."""
    return _Adviser(machine, projection, weighing).advice()


def excluded(machine: Machine, projection: Projection) -> frozenset[str]:
    """What is not offered: what was set aside or failed once, and checks that ask only for what was answered in this
    round. The same look again is no new evidence, and what nobody could tell, nobody can."""
    here = {f.indication for f in projection.evidence if f.round == projection.state.round}
    told = here.union(projection.state.cannot_tell)
    return projection.skipped.union(projection.failed, (c.id for c in machine.checks.values() if told >= {*c.gives}))


def looking(projection: Projection) -> bool:
    """Whether the cause is being looked for: the case is open, no danger stands, and neither a reset's outcome nor a
    remedy's proof is waited for."""
    state = projection.state
    over = state.closed or state.danger or projection.awaiting or state.remedy
    return not over and state.banner.level != "stop"


class _Adviser:
    def __init__(self, machine: Machine, projection: Projection, weighing: Weighing) -> None:
        self.machine, self.projection, self.state = machine, projection, projection.state
        self.role = projection.state.person.role
        self.likely = weighing.likely(projection)
        self.p = {cause.id: cause.probability for cause in self.likely}
        self.excluded = excluded(machine, projection)
        self._weighing = weighing

    def advice(self) -> Advice:
        if self.state.closed or self.state.danger:
            return self._advice((), None, ())
        if self.projection.awaiting:
            return self._advice((), actions.of_outcome(self.machine, self.machine.resets[self.projection.awaiting]), ())
        if self.state.banner.level == "stop":
            return self._advice((), self._call(Role.ENGINEER, why=self.state.banner.title + ". Keep out."), ())
        if self.state.remedy:
            next, others, says = prove.next_of(self.machine, self.projection)
            return self._advice((), next, others[:OTHERS], says)
        return self._looking()

    def _advice(
        self, checks: tuple[Action, ...], next: Action | None, others: tuple[Action, ...], says: str = ""
    ) -> Advice:
        found = self._weighing.misfit(self.projection)
        surprise = found.bits if found else None
        return Advice(self.likely, surprise, checks, next, others, says, self._weighing.odd(self.projection))

    # ------------------------------------------------------------ the stop itself

    def _looking(self) -> Advice:
        plan = self._weighing.plan(self.projection, self.excluded)
        checks = tuple(map(self._check, plan.checks, (*plan.checks[1:], None)))
        led, says = self._by_tree(tree_position(self.machine, self.projection), checks)
        # What looking further ahead took the lead from: whoever has begun to read it finds it still there.
        before = (self._action(plan.before),) if plan.before else ()
        computed = self._computed(plan, checks, before)
        next = led or computed
        call = self._call(self._whom())
        pool = [
            computed,
            *before,
            *checks[: OTHERS - 1],
            *self._likeliest_remedy(),
            *map(self._action, plan.remedies[:1]),
            call,
        ]
        if self.role is Role.OPERATOR:
            if next.kind == "call" and (looks := self._to_mark()):
                # What a call will ask for comes before it; once it was made there is no hurry for it.
                called = next.id in self.state.called
                pool = [*looks, *pool] if called else [next, *looks[1:], *pool]
                next = next if called else looks[0]
            pool = [*self._dangers(), *pool]
        others = {(next.kind, next.id): next}
        for action in pool:
            others.setdefault((action.kind, action.id), action)
        return self._advice(checks, next, tuple(others.values())[1 : OTHERS + 1], says)

    def _computed(self, plan: Plan, checks: tuple[Action, ...], before: tuple[Action, ...]) -> Action:
        """The best thing by the plan; of a check that is listed the line that tells what the next one saves less."""
        best = next((a for a in checks if plan.best.kind == "check" and a.id == plan.best.id), None)
        best = best or self._action(plan.best, due=True)
        told = [rationale.looked_ahead(a.title, plan.sooner) for a in before]
        if plan.best.kind == "remedy":
            told.insert(0, self._sooner(plan))
        return replace(best, why=" ".join(filter(None, (best.why, *told))))

    def _sooner(self, plan: Plan) -> str:
        """Why a remedy comes first though another is for the likeliest cause and worth trying too; else empty."""
        top = next((self.machine.causes[c.id] for c in self.likely if c.id in self.machine.causes), None)
        later = next((r for r in plan.remedies[1:] if top and top.remedy and r.id == top.remedy.id), None)
        return rationale.sooner(plan.best, later, top, self.p[top.id]) if top and later else ""

    def _action(self, choice: PlannedAction, due: bool = False) -> Action:
        match choice.kind:
            case "check":
                return self._check(choice)
            case "remedy":
                return self._remedy(self.machine.remedies[choice.id])
        return self._call(self._whom(), due=due)

    def _likeliest_remedy(self) -> tuple[Action, ...]:
        """The remedy of the likeliest cause that this role may treat: within reach whatever the minutes say."""
        for likely in self.likely:
            cause = self.machine.causes.get(likely.id)
            if cause is None or cause.remedy is None or likely.probability < WORTH_NAMING:
                continue
            if self.role in cause.remedy.who and cause.remedy.id not in self.excluded:
                return (self._remedy(cause.remedy),)
        return ()

    def _check(self, choice: PlannedAction, after: PlannedAction | None = None) -> Action:
        machine, check = self.machine, self.machine.checks[choice.id]
        why, leads = rationale.of_check(machine, choice, after), rationale.leads(machine, choice)
        return actions.of_check(machine, self.projection, check, why=why, saved=choice.saved, leads=leads)

    def _remedy(self, remedy: Remedy) -> Action:
        why = rationale.of_remedy(self.machine, remedy, self.p)
        return actions.of_remedy(self.machine, self.projection, remedy, why=why, now=self.p)

    def _call(self, role: Role, why: str = "", by_tree: bool = False, due: bool = False) -> Action:
        why = why or rationale.of_call(self.projection, role, due)
        return actions.of_call(self.machine, role, why=why, by_tree=by_tree, called=role.value in self.state.called)

    def _whom(self) -> Role:
        """An operator calls the electrician when the likely remedies are an electrician's; else it is engineering."""
        if self.role is not Role.OPERATOR or Role.ELECTRICIAN not in self.machine.call:
            return Role.ENGINEER
        remedies = ((self.p[cause.id], cause.remedy) for cause in self.machine.causes.values())
        theirs = sum(p for p, remedy in remedies if remedy is not None and Role.ELECTRICIAN in remedy.who)
        return Role.ELECTRICIAN if theirs >= 0.5 else Role.ENGINEER

    def _to_mark(self) -> list[Action]:
        """Before a call: whether anything is dangerous, and what the front shows, as far as nobody has said it. It is
        what will be asked first."""
        front = (i for block in self.machine.face for row in block.rows for i in row)
        found = self._looks((*(i for sign in self.machine.dangers for i, _ in sign.when), *front))
        more = f" {len(found) - 1} more after it." if len(found) > 1 else ""
        why = f"Mark it before you call: it will be asked.{more}"
        asked = (actions.of_check(self.machine, self.projection, check, why=why) for check in found[: OTHERS - 1])
        return [replace(action, before_call=True) for action in asked]

    def _dangers(self) -> list[Action]:
        """The question that leads to a danger sign, as long as nobody has answered it: what it tells goes before
        everything, and no lamp tells it."""
        why = "What is dangerous goes before everything else, and no lamp tells it."
        asked = (i for sign in self.machine.dangers for i, _ in sign.when)
        return [actions.of_check(self.machine, self.projection, check, why=why) for check in self._looks(asked)[:1]]

    def _looks(self, indications: Iterable[str]) -> list[Check]:
        """The checks from outside that tell those of them that were neither found nor beyond telling."""
        open_ = (id for id in indications if id not in self.state.current and id not in self.state.cannot_tell)
        ways = (way for id in open_ if (way := self._way(id)) is not None and way.access is Access.OUTSIDE)
        return list({way.id: way for way in ways}.values())

    # ------------------------------------------------------------ the tree

    def _by_tree(self, position: TreePosition | None, checks: tuple[Action, ...]) -> tuple[Action | None, str]:
        """What the tree leads to, or None with the reason in words."""
        machine = self.machine
        match position:
            case Ask(tree=tree, indication=indication, why=why):
                return self._asked(tree, indication, why, checks)
            case Instruct(tree=tree, text=text):
                why = f"The tree “{machine.trees[tree].title}” says so."  # which it may only of what is outside
                return Action("do", tree, text, actions.OPEN, why=why, how=text, by_tree=True), ""
            case Concluded(causes=causes):
                return None, f"The tree points to: {listed((machine.causes[c].title for c in causes), 'or')}."
            case CallFor(role=role):
                whom = Role(role) if role in set(Role) else Role.ENGINEER
                if whom is self.role or whom.value in self.state.called:
                    return None, _instead(f"The tree says: call the {whom.value}.")
                return self._call(whom, "The tree has no further look for this: call.", by_tree=True), ""
            case NoBranch(indication=indication, state=state):
                found = answered(title_of(machine, indication), shown_state(machine.indications[indication], state))
                return None, _instead(f"The tree has no branch for {found}.")
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
        ask = actions.of_check(self.machine, self.projection, check, why=why, saved=saved, by_tree=True, leads=leads)
        return ask, ""

    def _way(self, indication: str) -> Check | None:
        """The check by which this person finds it: one that is open now, else the first that may be opened."""
        skipped = self.projection.skipped
        ours = (c for c in self.machine.checks_for.get(indication, ()) if self.role in c.who and c.id not in skipped)
        ways = [c for c in ours if _fits(c.needs, self.projection.known)]
        rules = {c.id: permitted(self.machine, self.projection, c) for c in ways}
        reachable = (c for c in ways if rules[c.id].way != "call")
        return next((c for c in ways if rules[c.id].now), None) or next(reachable, None)


def _fits(needs: Mapping[str, tuple[str, ...]], known: Mapping[str, str]) -> bool:
    """Whether nothing that is known speaks against what the check needs."""
    return all(known.get(i, states[0]) in states for i, states in needs.items() if states)


def _instead(text: str) -> str:
    return f"{text} What follows is worked out from the facts."
