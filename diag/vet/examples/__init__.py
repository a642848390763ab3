"""Worked examples replayed, and why one came out wrong."""
