"""Recall: what a fault could have reached, where it went, and the recall or its rehearsal to the end."""
