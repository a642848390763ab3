"""A machine as the rules see it: its files and figures, what a rule is, and the sample that examples are laid over."""
