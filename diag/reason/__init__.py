"""Numbers: belief over causes, evidence, and the next thing to do by expected minutes.

Arrays in, arrays out; only `compile` knows a machine. The way through: `compile.compile(machine)` once, then
`belief.believe(table, evidence)` after each fact, `advise.advise(belief, situation)` for the next thing,
`belief.weights(belief, cause)` for what speaks for and against, `surprise.surprise(belief)` for how odd it all is.
"""
