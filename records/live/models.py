"""What comes live. Acts on feeds and gateways and a recorder's silence are records; samples are working rows.

`LiveFeed` is what the acts on feeds come to now. A staged sample is safe once its transaction is over, and becomes part
of a record when its hour is sealed.
"""

from __future__ import annotations

import uuid

from django.db import models

from records.ledger.models import Record

ENROLLED, REVOKED = "enrolled", "revoked"
SET_UP, TAKEN_OFF = "set up", "taken off"


class GatewayAct(Record):
    """A gateway enrolled (with the hash of its token) or revoked: who may hand samples in over HTTP, and since when."""

    KIND = "gateway act"
    form_id = models.UUIDField(unique=True)
    gateway = models.UUIDField(db_index=True)
    name = models.CharField(max_length=60)
    what = models.CharField(max_length=20)
    token_hash = models.CharField(max_length=64, blank=True, db_index=True)  # SHA-256; the token itself is kept nowhere


class GatewayInstrument(Record):
    """That a gateway may hand samples in for an instrument: named with its enrolment, in the same act."""

    KIND = "gateway instrument"
    gateway = models.UUIDField(db_index=True)
    instrument = models.CharField(max_length=60)

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["gateway", "instrument"], name="a_gateway_s_instrument_once")]


class FeedAct(Record):
    """A name (an MQTT topic, a gateway's channel) said to stand for an instrument from now on, or taken off."""

    KIND = "feed act"
    form_id = models.UUIDField(unique=True)
    name = models.CharField(max_length=200, db_index=True)
    what = models.CharField(max_length=20)
    instrument = models.CharField(max_length=60)
    unit = models.CharField(max_length=12)


class RecorderSilent(Record):
    """That a live recorder fell silent: nothing came after `since`, for longer than the plan allows.

    Once for each silence: its key is the instrument and its last sample. observed_at is since.
    """

    KIND = "recorder silent"
    instrument = models.CharField(max_length=60)
    instrument_name = models.CharField(max_length=120)
    place = models.CharField(max_length=40)
    place_name = models.CharField(max_length=120)
    since = models.DateTimeField()
    allowed_min = models.PositiveIntegerField()
    sentence = models.TextField()

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["instrument", "since"], name="a_silence_is_noticed_once")]


class LiveFeed(models.Model):
    """The name that samples come under (an MQTT topic, a gateway's channel), and the instrument that it stands for."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=200, unique=True)
    instrument = models.CharField(max_length=60)
    unit = models.CharField(max_length=12)

    def __str__(self) -> str:
        return self.name


class StagedSample(models.Model):
    """A live sample until its hour is sealed: the value as it came, and as a whole number of 10^-places of its unit.

    A moment may have several values: the first is the sample, the others contradict it.
    """

    instrument = models.CharField(max_length=60)
    unit = models.CharField(max_length=12)
    at_ms = models.BigIntegerField()
    text = models.CharField(max_length=40)
    value = models.BigIntegerField()
    places = models.PositiveSmallIntegerField()
    failed = models.BooleanField()
    received_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["instrument", "at_ms", "text"], name="a_live_sample_once")]
        ordering = ["at_ms", "id"]

    def __str__(self) -> str:
        return f"{self.instrument} {self.at_ms} {self.text}"


class RefusedMessage(models.Model):
    """What came live and could not be read, with its reason, for a person to see; the oldest make room."""

    at = models.DateTimeField()
    name = models.CharField(max_length=200)
    text = models.CharField(max_length=200)
    why = models.CharField(max_length=200)

    def __str__(self) -> str:
        return f"{self.name}: {self.why}"
