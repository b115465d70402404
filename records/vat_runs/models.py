"""What is recorded of a run of a vat pasteurizer: one row for each thing that happened, in order of its own time.

A row with temperatures is a reading of its own, with its verdict; the end of the hold has the verdict of the batch.
"""

from __future__ import annotations

from django.db import models

from records.ledger.models import decimal
from records.run_rows.models import RunRow

HOLD_BEGUN = "hold begun"
READ = "read"
HOLD_ENDED = "hold ended"
OUTLET_OPENED = "outlet opened"
OUTLET_SHUT = "outlet shut"
WITH_READINGS = (HOLD_BEGUN, READ, HOLD_ENDED)
YES, NO, NOT_SEEN = "yes", "no", "not seen"
LOOKS = ("valve_closed", "leak_drained", "agitated", "cover_closed")


class VatEvent(RunRow):
    """One thing that happened in a run of a vat.

    `indicating`, `recording`, `air_space`: temperatures in `unit`, as typed beside; `correction` is added to the
    indicating thermometer's for its corrected value, in `instrument_unit`, as its record had it. The looks are those at
    the beginning of the hold. `fill_min`, `empty_min`: minutes to fill or empty that the hold has to be longer by, 0
    where that does not apply, empty where nobody said.
    """

    KIND = "vat run event"
    product_class = models.CharField(max_length=30, blank=True)
    chart_number = models.CharField(max_length=60, blank=True)
    unit = models.CharField(max_length=10, blank=True)
    indicating_typed = models.CharField(max_length=40, blank=True)
    indicating = decimal(null=True)
    recording_typed = models.CharField(max_length=40, blank=True)
    recording = decimal(null=True)
    air_space_typed = models.CharField(max_length=40, blank=True)
    air_space = decimal(null=True)
    instrument = models.CharField(max_length=40, blank=True)
    instrument_unit = models.CharField(max_length=10, blank=True)
    correction = decimal(null=True)
    calibration_due = models.DateField(null=True)
    valve_closed = models.CharField(max_length=10, blank=True)
    leak_drained = models.CharField(max_length=10, blank=True)
    agitated = models.CharField(max_length=10, blank=True)
    cover_closed = models.CharField(max_length=10, blank=True)
    fill_typed = models.CharField(max_length=40, blank=True)
    fill_min = decimal(null=True)
    empty_typed = models.CharField(max_length=40, blank=True)
    empty_min = decimal(null=True)

    class Meta(RunRow.Meta):
        abstract = False
        constraints = [models.UniqueConstraint(fields=["by_id", "form_id"], name="a_vat_event_once_a_form")]
        indexes = [models.Index(fields=["place", "happened_at"], name="vat_event_at_place")]
