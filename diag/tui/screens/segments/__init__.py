"""A segment display drawn segment by segment."""
