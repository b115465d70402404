"""People, the roles they hold and the tablets of the plant."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class Role(models.TextChoices):
    """What a person may do; the table of rights is records/people/rights.py."""

    OPERATOR = "operator", _("operator")
    SUPERVISOR = "supervisor", _("supervisor")
    QUALIFIED = "qualified individual", _("qualified individual")
    OWNER = "owner", _("owner")
    MAINTENANCE = "maintenance", _("maintenance")
    INSPECTOR = "inspector", _("inspector")
    ADMINISTRATOR = "administrator", _("administrator")


class PersonManager(BaseUserManager["Person"]):
    """Makes people; passwords and PINs are set by the acts in records/people."""

    def get_by_natural_key(self, username: str | None) -> Person:
        return self.get(sign_in=username)


class Person(AbstractBaseUser):
    """Someone who signs in or taps their name on a tablet."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    sign_in = models.CharField(_("sign-in name"), max_length=60, unique=True)
    name = models.CharField(_("printed name"), max_length=120)
    initials = models.CharField(_("initials"), max_length=6, unique=True)
    email = models.EmailField(_("e-mail"), blank=True)
    language = models.CharField(_("language"), max_length=5, default="en")
    is_active = models.BooleanField(default=True)
    pin_hash = models.CharField(max_length=200, blank=True, editable=False)
    expires_at = models.DateTimeField(null=True, blank=True)  # a guest account (the inspector's) ends by itself
    certificate_serial = models.CharField(max_length=60, blank=True, editable=False)
    # Raised by a PIN reset, lowered when a supervisor has confirmed who the person is (21 CFR 11.100).
    must_be_confirmed = models.BooleanField(default=False, editable=False)

    USERNAME_FIELD = "sign_in"
    REQUIRED_FIELDS = ["name", "initials"]
    objects = PersonManager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def roles_at(self, moment: datetime) -> frozenset[str]:
        """The roles held at that moment."""
        return frozenset(
            held.role
            for held in self.held_roles.all()
            if held.since <= moment and (held.until is None or moment < held.until)
        )


class PersonRole(models.Model):
    """A role held from one moment to another; granted and ended by acts that the ledger keeps."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="held_roles")
    role = models.CharField(max_length=30, choices=Role.choices)
    since = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gt=models.F("since")), name="role_ends_after_it_starts"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.role}"


class Tablet(models.Model):
    """A shared tablet, enrolled once; its token is kept hashed."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=60, unique=True)
    place = models.CharField(max_length=120, blank=True)
    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    enrolled_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
