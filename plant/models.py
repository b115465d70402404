"""Django looks for models here; each feature keeps its own."""

from plant.equipment.models import Equipment, Instrument, Vessel
from plant.hazard_plan.models import (
    ControlPoint,
    CriticalLimit,
    Hazard,
    Monitoring,
    PlanSection,
    PlanVersion,
    ProcessStep,
)
from plant.people.models import Person, PersonRole, Tablet
from plant.products.models import Product

__all__ = [
    "ControlPoint",
    "CriticalLimit",
    "Equipment",
    "Hazard",
    "Instrument",
    "Monitoring",
    "Person",
    "PersonRole",
    "PlanSection",
    "PlanVersion",
    "ProcessStep",
    "Product",
    "Tablet",
    "Vessel",
]
