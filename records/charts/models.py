"""What is recorded of a paper chart. The paper stays the legal record; these say which chart it is, and what became.

`chart` in every kind but the first is the ledger number of the chart's first 'chart put on'; amendments keep it.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from records.ledger.models import Record, decimal

CIRCULAR, STRIP = "circular", "strip"
FRONT, BACK = "front", "back"
AGREE, DISAGREE = "agree", "disagree"


class _WithReading(Record):
    """The indicating reading at the moment of a change, as typed; `reading` is its entry in the readings."""

    form_id = models.UUIDField()
    typed = models.CharField(max_length=40, blank=True)
    unit = models.CharField(max_length=20, blank=True)
    value = decimal(null=True)
    instrument = models.CharField(max_length=40, blank=True)
    instrument_name = models.CharField(max_length=120, blank=True)
    not_taken = models.TextField(blank=True)  # 'I could not take it': the reason
    reading = models.BigIntegerField(null=True)
    note = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)  # an amendment that says: it did not happen

    class Meta(Record.Meta):
        abstract = True


class ChartOn(_WithReading):
    """A chart put on a recorder: its number as written on it, what it is made for, when, and the indicating reading.

    `span_min` is the time it is made for: one turn of a circular chart, the length of a strip. `replaces` is the chart
    taken off in the same change; `event` the plant event that a plan may ask checks for; `root` the first row of the
    line of amendments that this one is part of (none: itself). observed_at is put_on_at.
    """

    KIND = "chart put on"
    recorder = models.CharField(max_length=60)
    recorder_name = models.CharField(max_length=120)
    place = models.CharField(max_length=40, blank=True)
    place_name = models.CharField(max_length=120, blank=True)
    plant_name = models.CharField(max_length=120)
    chart_number = models.CharField(max_length=60)
    shape = models.CharField(max_length=20)  # circular, strip
    span_typed = models.CharField(max_length=40)  # hours
    span_min = models.PositiveIntegerField()
    put_on_at = models.DateTimeField()
    replaces = models.BigIntegerField(null=True)
    event = models.BigIntegerField(null=True)
    root = models.BigIntegerField(null=True, db_index=True)

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["by_id", "form_id"], name="a_chart_is_put_on_once_a_form")]
        indexes = [models.Index(fields=["recorder", "put_on_at"], name="chart_on_recorder")]


class ChartOff(_WithReading):
    """A chart taken off, with what is written on it and what was seen.

    `unusual`: whether anything unusual happened, in `unusual_words` (a chart must carry it: ATCP 65.66(3)(i)).
    `clock_right`: whether the chart's time was right against `clock_against`; `clock_words`: what it showed instead.
    observed_at is taken_off_at.
    """

    KIND = "chart taken off"
    chart = models.BigIntegerField(db_index=True)
    recorder = models.CharField(max_length=60)
    recorder_name = models.CharField(max_length=120)
    chart_number = models.CharField(max_length=60)
    taken_off_at = models.DateTimeField()
    products = models.TextField(blank=True)  # name and amount of each run's product
    unusual = models.BooleanField(null=True)
    unusual_words = models.TextField(blank=True)
    overlapped = models.BooleanField(null=True)  # the trace lies over an earlier one
    clock_right = models.BooleanField(null=True)
    clock_against = models.CharField(max_length=120, blank=True)
    clock_words = models.CharField(max_length=120, blank=True)

    class Meta(Record.Meta):
        constraints = [
            models.UniqueConstraint(fields=["by_id", "form_id"], name="a_chart_is_taken_off_once_a_form"),
            # What is amended names the row before it; the first of each chart stands alone.
            models.UniqueConstraint(fields=["chart"], condition=Q(amends__isnull=True), name="a_chart_comes_off_once"),
        ]


class ChartPastSpan(Record):
    """A chart that ran past the time it is made for: its traces overlap from then on. Written once a chart."""

    KIND = "chart past span"
    chart = models.BigIntegerField(unique=True)
    recorder = models.CharField(max_length=60)
    recorder_name = models.CharField(max_length=120)
    chart_number = models.CharField(max_length=60)
    span_min = models.PositiveIntegerField()
    span_ended_at = models.DateTimeField()
    sentence = models.TextField()


class ChartPhoto(Record):
    """A photo of one side of a chart; its bytes are kept by their hash."""

    KIND = "chart photo"
    form_id = models.UUIDField(unique=True)
    chart = models.BigIntegerField(db_index=True)
    side = models.CharField(max_length=10)  # front, back
    file = models.CharField(max_length=64)
    note = models.TextField(blank=True)


class ChartSigned(Record):
    """The operator's signature under a chart. `covers`: the ledger numbers of what was signed."""

    KIND = "chart signed"
    chart = models.BigIntegerField(db_index=True)
    covers = models.JSONField(default=list)


class RegulatorInitials(Record):
    """The regulator's quarterly initials as they stand on paper, copied by a person of the plant; not a signature.

    `accuracy`: the recorder's time accuracy as the regulator wrote it. `chart`: the one that they stand on, if said.
    """

    KIND = "regulator's initials"
    form_id = models.UUIDField(unique=True)
    recorder = models.CharField(max_length=60)
    recorder_name = models.CharField(max_length=120)
    year = models.PositiveIntegerField()
    quarter = models.PositiveSmallIntegerField()
    written_on = models.DateField()
    initials = models.CharField(max_length=40)
    name = models.CharField(max_length=120)
    accuracy = models.CharField(max_length=200)
    chart = models.BigIntegerField(null=True, db_index=True)
    note = models.TextField(blank=True)

    class Meta(Record.Meta):
        indexes = [models.Index(fields=["recorder", "year", "quarter"], name="regulators_quarter")]


class ChartFit(Record):
    """Where a photo shows what: marks as typed or tapped, so that the stored trace can be drawn over it.

    `marks`: texts by name (plant.pictures.chart_over says which); lengths in thousandths of the photo's width.
    """

    KIND = "chart fit"
    form_id = models.UUIDField(unique=True)
    chart = models.BigIntegerField(db_index=True)
    photo = models.BigIntegerField(db_index=True)
    shape = models.CharField(max_length=20)
    unit = models.CharField(max_length=20)
    marks = models.JSONField(default=dict)
    first_at = models.DateTimeField()  # of the time mark, or of a strip's first corner
    second_at = models.DateTimeField(null=True)  # of a strip's second corner


class ChartCompared(Record):
    """Photo and stored trace compared by a person: they agree, or disagree at a moment, because."""

    KIND = "chart compared"
    form_id = models.UUIDField(unique=True)
    chart = models.BigIntegerField(db_index=True)
    photo = models.BigIntegerField()
    fit = models.BigIntegerField(null=True)
    outcome = models.CharField(max_length=20)  # agree, disagree
    disagree_at = models.DateTimeField(null=True)
    because = models.TextField(blank=True)
