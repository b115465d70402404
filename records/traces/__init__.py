"""Traces of recorders and loggers: the files they came from, the blocks of samples, what stands in them."""
