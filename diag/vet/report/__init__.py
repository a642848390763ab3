"""Findings told: the rules in words, and SARIF for editors and code hosts."""
