"""What is recorded of a run of a pasteurizer: one row for each thing that happened in it, in order of its own time.

The start-up checks are readings of the plan's checks, and product is a movement: both have records of their own, and a
run points to them. Whether a run is started, running or ended is computed from these rows, never stored.
"""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record

OPENED = "start begun"
FORWARD = "forward flow begun"
PRODUCT_IN = "water to product"
PRODUCT_CHANGE = "product changed"
SET_UP = "set-up changed"
DIVERTED = "diverted"
FORWARD_AGAIN = "forward flow again"
UNUSUAL = "unusual occurrence"
NOTE = "note"
PRODUCT_OUT = "product to water"
ENDED = "ended"
WASH = "wash begun"


class RunEvent(Record):
    """One thing that happened in a run. `run` is the ledger number of its first row, which begins the start itself.

    `set_up` is a key of the plan's set-ups, at the beginning and where it changes. `movement` is that of the product
    which began, or for PRODUCT_OUT ended, with it. `words`: why, where the mixture went, what happened. observed_at
    is happened_at.
    """

    KIND = "run event"
    form_id = models.UUIDField()
    run = models.BigIntegerField(null=True, db_index=True)
    place = models.CharField(max_length=40)
    place_name = models.CharField(max_length=120)
    what = models.CharField(max_length=40)
    happened_at = models.DateTimeField()
    set_up = models.CharField(max_length=60, blank=True)
    set_up_name = models.CharField(max_length=120, blank=True)
    set_point = models.CharField(max_length=40, blank=True)  # with its unit, as the plan says
    product = models.CharField(max_length=60, blank=True)
    product_name = models.CharField(max_length=120, blank=True)
    product_class = models.CharField(max_length=20, blank=True)
    movement = models.BigIntegerField(null=True)
    chart_number = models.CharField(max_length=60, blank=True)
    words = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)  # an amendment that says: it did not happen

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["by_id", "form_id"], name="a_run_event_once_a_form")]
        indexes = [models.Index(fields=["place", "happened_at"], name="run_event_at_place")]
