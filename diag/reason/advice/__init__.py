"""The next thing to do by expected minutes, one step ahead and further."""
