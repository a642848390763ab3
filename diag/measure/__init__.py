"""Trials and generators that say how good the rest is. Loaded by `diag measure` alone.

Each `*_figures` module holds one measure: `measure(...)` runs its trials and gives a `Measurement`, figures by name and
lines to read. The trials themselves stand beside it: `tap_trials`, `decode_trials`, `worked_values`, `panel_fuzz`,
`faulty_files`, `growth_machine`, and `advice_trials` with `optimum`.
"""
