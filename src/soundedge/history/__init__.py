"""Many jobs seen together: what falls with a gauge, which parts hold a lot, what was repaired here before. Pure."""
