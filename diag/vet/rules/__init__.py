"""The rules, one module for each subject, and `catalogue`, which lists them all."""
