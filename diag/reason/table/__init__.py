"""A machine turned into arrays, once. The only part of this room that knows a machine."""
