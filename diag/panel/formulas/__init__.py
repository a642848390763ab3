"""Derived readings: `formulas.FORMULAS` has the handbook formulas by name, each with its source and what to ask for."""
