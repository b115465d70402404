"""Pasteurizer runs as the operator meets them: the start with its checks, product, diversions, changes, the end."""
