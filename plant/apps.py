"""The plant: what it is and what its plan requires."""

from django.apps import AppConfig


class PlantConfig(AppConfig):
    """Vessels, instruments, products, people and the hazard plan."""

    name = "plant"
    default_auto_field = "django.db.models.BigAutoField"
