"""diag: from what a stopped machine shows to its cause, in the terminal."""
