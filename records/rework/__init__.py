"""Rework set aside in the freezer's runs: what is kept, its hours, what it went into, how it was thrown away."""
