"""One stop, from the first look to back in service: events that are only ever added to, and what follows from them.

`case.Case` is the one door: `Case.open`, `resume` and `read` make one, `post` enters an event (the rule of
`diag.safety` decides), `say` a fact as people say it; `state` and `advice()` are what a screen shows. A `Sitting`
says who enters. `log.replay` turns entries into a state without a clock and without NumPy, `diag.record` keeps them,
and the part `sheet` writes the handover sheet of a case.
"""
