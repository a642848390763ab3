"""What happened in a case: events, what may be entered, and the state that follows when they are replayed."""
