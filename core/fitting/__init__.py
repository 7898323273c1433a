"""Curves fitted to curves: how far apart they lie, and the fewest that say the same within a tolerance."""
