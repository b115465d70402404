"""Batches: sheets computed and weighed, blend tests, separation, vitamins, flavors after pasteurization."""
