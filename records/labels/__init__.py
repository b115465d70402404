"""Filling: clearing the line at a change of product, labels and lids opened and counted, the label of a pack."""
