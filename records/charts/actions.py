"""The acts on paper charts: each keeps what a person says of one, once, with what follows. See the modules."""

from records.charts.amending import amend_off, amend_on
from records.charts.changing import Changed, change, put_on, take_off
from records.charts.data import ComparedData, FitData, Indicated, InitialsData, OffData, OnData
from records.charts.fitting import keep_fit
from records.charts.papers import compare, copy_initials, keep_photo, sign_chart

__all__ = [
    "Changed",
    "ComparedData",
    "FitData",
    "Indicated",
    "InitialsData",
    "OffData",
    "OnData",
    "amend_off",
    "amend_on",
    "change",
    "compare",
    "copy_initials",
    "keep_fit",
    "keep_photo",
    "put_on",
    "sign_chart",
    "take_off",
]
