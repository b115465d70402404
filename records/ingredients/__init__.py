"""Ingredients and packaging: who may supply them, what came, what became of it."""
