"""PROVISIONAL loader, until the checked one lands."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from pydantic import TypeAdapter

from diag.machine import model as m
from diag.machine import source as s
from diag.machine.compose import compose
from diag.machine.problem import Problem
from diag.machine.text import read_text, shown_path

ALL = tuple(m.Role)
HANDS = (m.Role.ELECTRICIAN, m.Role.ENGINEER)


@dataclass(frozen=True)
class Loaded:
    machine: m.Machine | None
    problems: tuple[Problem, ...]


class NotAMachine(ValueError):
    pass


def _plain(path):
    text = read_text(path)
    if isinstance(text, Problem):
        raise NotAMachine(str(text))
    node, problems = compose(text, shown_path(path))
    if problems:
        raise NotAMachine(str(problems[0]))
    return node.plain()


def _v(cls, value):
    return TypeAdapter(cls).validate_python(value)


def _bands(bands, normal):
    out = []
    for state, text in bands.items():
        n = r"(-?[0-9.]+)"
        if f := re.fullmatch(rf"{n} \.\. {n}", text):
            out.append(m.Band(state, float(f[1]), float(f[2])))
        elif f := re.fullmatch(rf"<=? {n}", text):
            out.append(m.Band(state, None, float(f[1])))
        elif f := re.fullmatch(rf">=? {n}", text):
            out.append(m.Band(state, float(f[1]), None))
        else:
            raise NotAMachine(f"band {text}")
    return tuple(sorted(out, key=lambda b: float("-inf") if b.low is None else b.low))


def _indication(id, raw):
    kind = next(k for k in s.KINDS if k in raw)
    src = _v(s.KINDS[kind], raw)
    extra, usual, codes = {}, (), ()
    words = id.replace("-", " ").capitalize()
    if kind == "lamp":
        states = src.states or {"lit": "steady", "dark": "off"}
        pat = {k: v for k, v in states.items()}
        extra = dict(colour=src.lamp, label=src.label or "")
        title = src.title or src.label or words
    elif kind == "display":
        n = int(src.display.split()[0])
        codes = tuple(m.Code(" " * n if c == "blank" else c, v.state, v.means) for c, v in src.codes.items())
        pat = {c.state: "" for c in codes}
        pat.setdefault(m.OTHER, "")
        extra = dict(characters=n, label=src.label or "")
        title = src.title or src.label or words
    elif kind == "contact":
        pat = {k: "" for k in (src.states or ("open", "closed"))}
        extra = dict(contact=src.contact, measured=src.measured or "")
        title = src.title or words
    elif kind == "reading":
        pat = {k: "" for k in src.bands}
        extra = dict(unit=src.reading, nominal=src.nominal, bands=_bands(src.bands, src.normal), formula=src.formula or "")
        title = src.title or words
    else:
        mix = src.usual or {k: 1.0 for k in src.answers}
        total = sum(mix.values())
        usual = tuple(v / total for v in mix.values())
        pat = {k: "" for k in mix}
        title = src.title or src.question
    normal = src.normal or (max(mix, key=mix.get) if kind == "question" else next(iter(pat)))
    if src.energy:
        energy = src.energy
    elif kind == "question":
        energy = m.Energy.ANY
    elif kind == "contact" and src.measured == "continuity" or kind == "reading" and src.reading == "ohm":
        energy = m.Energy.OFF
    else:
        energy = m.Energy.ON
    means = {c.state: c.means for c in reversed(codes)}
    states = tuple(
        m.State(k, means.get(k, ""), v, "", k in src.protective, tuple(src.latched.get(k, ()))) for k, v in pat.items()
    )
    follows = tuple(m.Follow(_when(f.when), f.shows) for f in src.follows)
    return m.Indication(
        id=id, kind=m.Kind(kind), title=title, states=states, normal=normal, where=src.where, codes=codes,
        source=src.source or "", usual=usual, energy=energy, follows=follows, **extra,
    )


def _tuple(v):
    return (v,) if isinstance(v, str) else tuple(v)


def _when(when):
    when = when.get("all", when)
    return tuple((k, _tuple(v)) for k, v in when.items())


def _node(raw):
    if "look" in raw:
        branches = {}
        for key, value in raw.get("when", {}).items():
            for part in key.split("|"):
                branches[part.strip()] = _node(value)
        other = _node(raw["otherwise"]) if "otherwise" in raw else None
        return m.Look(raw["look"], branches, other, raw.get("why", ""))
    if "do" in raw:
        return m.Do(raw["do"], _node(raw["then"]) if "then" in raw else None)
    if "conclude" in raw:
        return m.Conclude(_tuple(raw["conclude"]))
    if "go" in raw:
        return m.Go(raw["go"])
    return m.Call(raw["call"])


def _remedy(id, raw):
    r = _v(s.RemedySource, raw)
    return m.Remedy(
        id=id, do=r.do, minutes=r.minutes, access=r.access, who=r.who or (ALL if r.access == "outside" else HANDS),
        zone=r.zone or "", parts=r.parts, tool=r.tool, caution=r.caution, chance=r.chance,
    )


def load(folder):
    folder = Path(folder)
    if not (folder / "machine.yaml").exists():
        raise NotAMachine(f"{folder} is not a machine")
    raw = _plain(folder / "machine.yaml")
    for name in ("panel", "causes", "checks"):
        if (folder / f"{name}.yaml").exists():
            raw.update(_plain(folder / f"{name}.yaml"))
    trees, examples = raw.pop("trees", []), raw.pop("examples", [])
    for f in sorted(folder.glob("trees/*.yaml")):
        trees.append(_plain(f))
    for f in sorted(folder.glob("examples/*.yaml")):
        got = _plain(f)
        examples += got["examples"] if "examples" in got else [got]
    heads = {k: raw[k] for k in raw if k in {x.replace("_", "-") for x in s.HeadSource.model_fields}}
    head = _v(s.HeadSource, heads)
    groups = {k: tuple(v) for k, v in raw.get("groups", {}).items()}
    inds = {k: _indication(k, v) for k, v in raw["indications"].items()}
    resets = {}
    for k, v in raw.get("resets", {}).items():
        r = _v(s.ResetSource, v)
        resets[k] = m.Reset(id=k, title=r.title, do=r.do, who=r.who, clears=r.clears or "", note_first=r.note_first, minutes=r.minutes)
        mix = r.usual or {"back-at-once": 0.9, "back-later": 0.05, "ran-on": 0.05}
        total = sum(mix.values())
        inds[k] = m.Indication(
            id=k, kind=m.Kind.QUESTION, title=f"After {r.title.lower()}: what happened?", states=tuple(m.State(x) for x in m.RESET_OUTCOMES),
            normal="back-at-once", usual=tuple(mix.get(x, 0) / total for x in m.RESET_OUTCOMES), energy=m.Energy.ANY,
        )

    def decode(ind, word):
        if word in ind.state_ids or not ind.codes:
            return word
        exact = [c.state for c in ind.codes if c.pattern == word]
        wild = [c.state for c in ind.codes if len(c.pattern) == len(word) and all(a in ("?", b) for a, b in zip(c.pattern, word, strict=True))]
        return (exact + wild + [m.OTHER])[0]

    def spread(mapping):
        for k, v in mapping.items():
            for i in groups.get(k, (k,)):
                yield i, v

    remedies = {k: _remedy(k, v) for k, v in raw.get("remedies", {}).items()}
    causes = {}
    for k, v in raw["causes"].items():
        c = _v(s.CauseSource, v)
        remedy = None
        if isinstance(c.remedy, str):
            remedy = remedies[c.remedy]
        elif c.remedy:
            remedy = remedies[k] = _remedy(k, c.remedy)
        shows = {}
        for i, states in spread(c.shows):
            row = shows.setdefault(i, {})
            for word, p in states.items():
                row[decode(inds[i], word)] = row.get(decode(inds[i], word), 0) + p
        if c.proof is not None:
            proof = {i: tuple(decode(inds[i], w) for w in ws) for i, ws in spread(c.proof)}
        else:
            proof = {
                i: (inds[i].normal,) for i, row in shows.items()
                if inds[i].kind != "question" and any(p >= 0.85 and st != inds[i].normal for st, p in row.items())
            }
        quiet = c.intermittent if c.intermittent is not None else 0.5 if c.comes else 0.0
        causes[k] = m.Cause(id=k, title=c.title, part=c.part, rate=c.often, shows=shows, remedy=remedy, proof=proof, quiet=quiet, by_design=c.by_design, note=c.note)
    checks = {}
    for k, v in raw.get("checks", {}).items():
        c = _v(s.CheckSource, v)
        gives = tuple(i for g in c.gives for i in groups.get(g, (g,)))
        kinds = {inds[i].energy for i in gives} - {m.Energy.ANY}
        energy = c.energy or (kinds.pop() if len(kinds) == 1 else m.Energy.ANY)
        checks[k] = m.Check(
            id=k, title=c.title or "Find: " + ", ".join(inds[i].title for i in gives), gives=gives, do=c.do, tool=c.with_, where=c.where,
            access=c.access, zone=c.zone or "", who=c.who or (ALL if c.access == "outside" else HANDS), minutes=c.minutes,
            needs=dict(spread(c.needs)), caution=c.caution, energy=energy, changes=c.changes,
        )
    given = {i for c in checks.values() for i in c.gives} | set(resets)
    for i, ind in inds.items():
        if i not in given:
            q = ind.kind == "question"
            id = f"ask-{i}" if q else f"see-{i}"
            checks[id] = m.Check(
                id=id, title=(f"Ask: {ind.title}" if q else f"Look at {ind.title}"), gives=(i,), do=ind.title, minutes=0.5 if q else 0.2,
                access=m.Access.OUTSIDE, who=ALL, where=ind.where, energy=ind.energy, implied=True,
            )
    made = {t["tree"]: m.Tree(t["tree"], t["title"], _node(t)) for t in trees}
    exs = []
    for e in examples:
        x = _v(s.ExampleSource, e)
        exs.append(m.Example(id=x.example, title=x.title, facts=tuple(next(iter(f.items())) for f in x.facts), cause=x.cause, within=x.within, tree=x.tree, who=x.who, tried=x.tried))
    mn = head.minutes
    machine = m.Machine(
        id=folder.name, title=head.title, place=head.place, revision=head.revision, standing=head.standing, hazards=head.hazards,
        neighbours=head.neighbours, minutes=m.Minutes(mn.lock, mn.restore, mn.live, mn.call), reset_limit=head.reset_limit,
        call={r: getattr(head.call, r.value) for r in m.Role},
        points={k: m.IsolationPoint(id=k, **_v(s.PointSource, v).model_dump()) for k, v in raw.get("points", {}).items()},
        stored={k: m.StoredEnergy(id=k, **_v(s.StoredSource, v).model_dump()) for k, v in raw.get("stored", {}).items()},
        test_points={k: m.TestPoint(id=k, **_v(s.TestPointSource, v).model_dump()) for k, v in raw.get("test-points", {}).items()},
        zones={k: m.Zone(id=k, **_v(s.ZoneSource, v).model_dump()) for k, v in raw.get("zones", {}).items()},
        dangers=tuple(m.Danger(when=_when(d["when"]), stop=d["stop"], call=m.Role(d["call"])) for d in raw.get("dangers", [])),
        resets=resets, groups=groups, indications=inds,
        face=tuple(m.FaceRow(t, tuple(tuple(r) for r in rows)) for t, rows in raw.get("face", {}).items()),
        causes=causes, remedies=remedies, checks=checks, trees=made, start=head.start or next(iter(made), ""), examples=tuple(exs),
    )
    return Loaded(machine, ())


def read(folder):
    return load(folder).machine
