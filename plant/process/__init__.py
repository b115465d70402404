"""Pure computation: no Django, no clock, no database.

Moments are aware UTC datetimes, measured values are `Decimal` as written down, and whatever depends on the
present takes `now` as an argument.
"""
