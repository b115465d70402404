"""Loads of raw milk: what came, by which paper, screened or not, unloaded into what."""
