"""Products and what they contain."""

from __future__ import annotations

import uuid

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from plant.products.checked import check_gtin


class Family(models.TextChoices):
    """The kinds that the Day chart tells apart by texture."""

    RAW_MILK = "raw milk", _("raw milk")
    RAW_CREAM = "cream", _("cream")
    SKIM = "skim", _("skim")
    MILK = "milk", _("pasteurized milk")
    MIX = "mix", _("mix")
    ICE_CREAM = "ice cream", _("ice cream")
    OTHER = "other", _("other")


class Keep(models.TextChoices):
    """What the label says of cold."""

    REFRIGERATED = "refrigerated", _("refrigerated")
    FROZEN = "frozen", _("frozen")


class Product(models.Model):
    """Something the plant holds or sells. Fat in percent by mass."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    code = models.SlugField(_("code"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=80)
    family = models.CharField(_("family"), max_length=20, choices=Family.choices)
    product_class = models.CharField(_("pasteurization class"), max_length=40)
    fat_percent = models.DecimalField(_("fat, percent"), max_digits=5, decimal_places=2, null=True, blank=True)
    allergens = models.JSONField(_("allergens"), default=list, blank=True)
    is_sold = models.BooleanField(_("sold to customers"), default=True)
    is_active = models.BooleanField(_("in use"), default=True)
    gtin = models.CharField(_("GTIN"), max_length=14, blank=True, default="", validators=[check_gtin])
    net_contents = models.CharField(_("net contents, as on the label"), max_length=60, blank=True, default="")
    shelf_days = models.CharField(
        _("days from packing to best before"),
        max_length=4,
        blank=True,
        default="",
        validators=[RegexValidator(r"^[1-9][0-9]{0,3}\Z", _("Write whole days, like 14."))],
    )
    keep = models.CharField(_("how it is kept"), max_length=20, choices=Keep.choices, blank=True, default="")

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(fat_percent__isnull=True) | Q(fat_percent__gte=0, fat_percent__lte=100),
                name="product_fat_is_a_percentage",
            )
        ]

    def __str__(self) -> str:
        return self.name
