"""The gate: the steps of one zone's lockout, confirmed one by one."""
