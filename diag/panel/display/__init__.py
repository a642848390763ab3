"""Segment displays: `segments` draws them, `decode` finds the code behind what was read off one."""
