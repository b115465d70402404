"""The paper chart, which stays the legal one: put on, taken off, photographed, signed, held against the trace."""
