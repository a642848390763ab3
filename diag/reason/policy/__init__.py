"""Sequential testing: the test tree of least expected cost, with a proven bound."""
