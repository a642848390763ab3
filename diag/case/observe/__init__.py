"""What was tapped, typed, drawn or measured, as an observation: P(perceived | true state)."""
