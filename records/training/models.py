"""Trainings as they were held. Until when one counts is computed from the plan in force, never stored."""

from __future__ import annotations

from django.db import models

from records.ingredients.models import KeptOnce
from records.ledger.models import Record


class Training(KeptOnce):
    """A training with its day, its type and the people trained (21 CFR 117.180(d), from memory).

    `observed_at`: when it was recorded, which may be years after `trained_on`. `training`: the plan's key, empty for
    one that the plan does not name; `topic` in the plant's words. `people`: [{"id", "name", "initials"}], by name.
    `certificate`: SHA-256 of a kept file; `ends_on`: the certificate's own last day.
    """

    KIND = "training"
    training = models.CharField(max_length=80, blank=True)
    topic = models.CharField(max_length=200)
    people: models.JSONField[list[dict[str, str]], list[dict[str, str]]] = models.JSONField(default=list)
    trained_on = models.DateField()
    trainer = models.CharField(max_length=120)
    proven = models.CharField(max_length=20)
    ends_on = models.DateField(null=True)
    certificate = models.CharField(max_length=64, blank=True)
    plan_number = models.PositiveIntegerField()


class PersonTrained(Record):
    """One of the people of a training, beside it in the same act. `training_number`: the training's own number.

    It says nothing that the training does not say; it is how the last training of a person is found by an index.
    """

    KIND = "person trained"
    training_number = models.BigIntegerField()
    training = models.CharField(max_length=80, blank=True)
    person = models.UUIDField()
    person_name = models.CharField(max_length=120)
    trained_on = models.DateField()

    class Meta(Record.Meta):
        constraints = [
            models.UniqueConstraint(fields=["training_number", "person"], name="a_person_once_a_training")
        ]
        indexes = [models.Index(fields=["person", "training", "trained_on"], name="trained_last")]
