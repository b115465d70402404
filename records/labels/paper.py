"""The label of a pack on paper: one page, the symbol in its true size, with what it lacks."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.template.loader import render_to_string

from plant.hazard_plan.content import PlantHeader
from plant.signing.pdf import render_pdf
from records.labels.sheet import LabelSheet
from records.ledger.models import Installation


def label_paper(label: LabelSheet, held: Sequence[str], plant: PlantHeader, now: datetime) -> bytes:
    """As a PDF, in the present language. `held`: why the packs are held now. ValueError for a label not drawn."""
    if label.left:
        raise ValueError("No label is drawn for a product that does not declare what is in it.")
    context = {
        "label": label,
        "held": held,
        "plant": plant,
        "installation": Installation.objects.order_by("number").first(),
        "paper": "letter" if plant.temperature_unit.removeprefix("°") == "F" else "a4",
    }
    html = render_to_string("records/labels/label_paper.html", context)
    name = f"{plant.name}/label/{label.lot.id}/{now.isoformat()}"
    return render_pdf(html, static_dir=Path(settings.BASE_DIR) / "static", created_at=now, identifier=name)
