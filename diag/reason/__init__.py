"""Numbers: belief over causes, evidence, and the next thing to do by expected minutes.

Arrays in, arrays out; only `compile` knows a machine. The way through: `compile.compile(machine)` once, then
`belief.believe(table, evidence)` after each fact, `advise.advise(belief, situation)` for the next thing,
`belief.weights(belief, cause)` for what speaks for and against, `overturn.overturn(belief, cause)` for what single fact
would change that, `surprise.surprise(belief)` for how odd it all is, `pairs` for two causes at once.

Without a machine file, for whoever wants to check a figure: `flat_belief.posterior` takes a prior and raw tables of
likelihoods (`flat` keeps such a table for many facts), `policy.solve` a raw table of states, tests and costs, `cost`
remedies in an order, `figures` has the scores of forecasts and of isolation.
"""
