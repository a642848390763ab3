"""`python -m diag`, the same as the command `diag`."""

from diag.cli import main

main()
