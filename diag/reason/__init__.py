"""Numbers: belief over causes, evidence, and the next thing to do by expected minutes.

Arrays in, arrays out; only `table` knows a machine. The way through it: `table.compile.compile` makes a machine's
table, once. `belief.belief.believe` gives the belief after each fact, `advice.one_step.advise` the next thing to do,
and `advice.look_ahead.look_ahead` the same from further ahead. `weights` in `belief.belief` says what speaks for and
against a cause, `belief.overturn` what single fact would change that, `belief.misfit` how badly the facts fit any one
cause, and `belief.pairs` scores two causes at once.

Without a machine file: `policy.policy.solve` takes a raw table of states, tests and costs, `advice.remedy_order` puts
remedies in an order, `figures` has the scores of forecasts and of isolation.
"""
