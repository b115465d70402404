"""Drawings as SVG text: marks, gauges, the Day chart. Pure: plain data in, the same bytes out for the same
data.

No Django, no clock, no database. Colors are attributes, never style sheets, so a drawing looks alike in a
page, in the PDF and on its own. Words come from the caller (translated there); English is the default.
"""
