"""One stop, from the first look to back in service: events that are only ever added to, and what follows from them.

`case.Case` is the one door: `Case.open`, `resume` and `read` make one, `post` enters an event (the rule of
`diag.safety` decides), `say` a fact as people say it; `state` and `advice()` are what a screen shows, `sheet` is the
handover. `casebook.Casebook` keeps the entries. `fold.fold` turns entries into a state; it reads no clock and needs no
NumPy.
"""
