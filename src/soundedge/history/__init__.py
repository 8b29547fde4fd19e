"""Many jobs seen together: what depends on a gauge, which parts contain a lot, what was repaired here before. Pure."""
