"""Vessels, other equipment and instruments."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class VesselKind(models.TextChoices):
    """What kind of thing holds or passes product."""

    SILO = "silo", _("silo")
    TANK = "tank", _("tank")
    VAT = "vat", _("vat")
    BALANCE_TANK = "balance tank", _("balance tank")
    PASTEURIZER = "pasteurizer", _("pasteurizer")
    FREEZER = "continuous freezer", _("continuous freezer")
    FEEDER = "ingredient feeder", _("ingredient feeder")
    FILLER = "filler", _("filler")
    ROOM = "room", _("room")


class Stage(models.TextChoices):
    """Which side of the pasteurizer a vessel stands on."""

    RAW = "raw", _("raw")
    PRESS = "press", _("pasteurizer")
    PASTEURIZED = "pasteurized", _("pasteurized")
    FROZEN = "frozen", _("frozen")


class StorageClass(models.TextChoices):
    """Which clock rules a vessel: the 72 h rule is that of raw storage alone."""

    RAW_STORAGE = "raw storage", _("raw storage, emptied and washed within 72 h")
    DAILY = "daily", _("washed each day it is used")
    LINE = "line", _("washed after hours of running")
    NONE = "none", _("no wash clock")


class Vessel(models.Model):
    """A place that holds product, or a line that product passes through. Quantities in `unit`."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    code = models.SlugField(_("code"), max_length=40, unique=True, help_text=_("Printed in the QR on the vessel."))
    name = models.CharField(_("name"), max_length=80)
    kind = models.CharField(_("kind"), max_length=30, choices=VesselKind.choices)
    stage = models.CharField(_("stage"), max_length=20, choices=Stage.choices)
    storage_class = models.CharField(_("wash clock"), max_length=20, choices=StorageClass.choices)
    holds_product = models.BooleanField(_("holds product"), default=True)  # False: product only passes through
    capacity = models.DecimalField(_("capacity"), max_digits=12, decimal_places=3, null=True, blank=True)
    unit = models.CharField(_("unit"), max_length=10, default="gal")
    flow_order = models.PositiveIntegerField(_("place in flow order"))
    walk_order = models.PositiveIntegerField(_("place in walking order"))
    is_active = models.BooleanField(_("in use"), default=True)

    class Meta:
        ordering = ["flow_order", "name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(capacity__isnull=True) | Q(capacity__gt=0), name="vessel_capacity_positive"
            )
        ]

    def __str__(self) -> str:
        return self.name


class Equipment(models.Model):
    """Anything checked that holds no product: separator, filler, scale, hand sink, trap, area of the plant."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    code = models.SlugField(_("code"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=80)
    kind = models.CharField(_("kind"), max_length=40)
    area = models.CharField(_("area"), max_length=80, blank=True)
    walk_order = models.PositiveIntegerField(_("place in walking order"))
    is_active = models.BooleanField(_("in use"), default=True)

    class Meta:
        ordering = ["walk_order", "name"]
        verbose_name_plural = "equipment"

    def __str__(self) -> str:
        return self.name


class InstrumentRole(models.TextChoices):
    """What an instrument is for: the indicating thermometer is the reference."""

    INDICATING = "indicating thermometer", _("indicating thermometer")
    RECORDING = "recording thermometer", _("recording thermometer")
    AIR_SPACE = "air-space thermometer", _("air-space thermometer")
    HAND = "hand thermometer", _("hand thermometer")
    PRESSURE = "pressure gauge", _("pressure gauge")
    SCALE = "scale", _("scale")
    LEVEL = "level", _("level")
    METER = "meter", _("meter")
    OTHER = "other", _("other")


class Instrument(models.Model):
    """A measuring instrument; range, accuracy and resolution in `unit`. `correction` is added to what is read."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    code = models.SlugField(_("number"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=80)
    role = models.CharField(_("role"), max_length=30, choices=InstrumentRole.choices)
    place_code = models.SlugField(_("on (vessel or equipment code)"), max_length=40, blank=True)
    unit = models.CharField(_("unit"), max_length=10)
    low = models.DecimalField(_("lowest it reads"), max_digits=12, decimal_places=4)
    high = models.DecimalField(_("highest it reads"), max_digits=12, decimal_places=4)
    resolution = models.DecimalField(_("resolution"), max_digits=12, decimal_places=4)
    accuracy = models.DecimalField(_("accuracy, plus or minus"), max_digits=12, decimal_places=4)
    correction = models.DecimalField(_("correction"), max_digits=12, decimal_places=4, default=0)
    calibration_due = models.DateField(_("calibration due"))
    is_active = models.BooleanField(_("in use"), default=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(condition=Q(high__gt=models.F("low")), name="instrument_range_has_width"),
            models.CheckConstraint(condition=Q(resolution__gt=0, accuracy__gt=0), name="instrument_accuracy_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"
