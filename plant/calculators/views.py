"""The calculators' pages. They read and compute; nothing is recorded."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_safe

from plant.calculators import calculators
from plant.calculators.forms import CalculatorForm
from plant.calculators.typed import in_words
from plant.calculators.working import Working
from plant.kept_words import kept_word
from plant.process.errors import CalculationError


@require_safe
def index(request: HttpRequest) -> HttpResponse:
    """Every calculator with what it is for."""
    found = sorted(calculators().values(), key=lambda one: str(one.title))
    return render(request, "plant/calculators/calculators.html", {"calculators": found})


@require_safe
def calculator(request: HttpRequest, key: str) -> HttpResponse:
    """One calculator: what was asked by the address, or its example, worked step by step."""
    found = calculators().get(key)
    if found is None:
        raise Http404
    asked = any(one.name in request.GET for one in found.asks)
    form = CalculatorForm(found, request.GET) if asked else CalculatorForm.of_the_example(found)
    shown: dict[str, Any] = {"calculator": found, "form": form, "is_example": not asked}
    if form.is_valid():
        try:
            shown["working"] = _said(found.work(form.values))
        except CalculationError as error:
            form.add_error(None, in_words(error.sentence))
    return render(request, "plant/calculators/calculator.html", shown)


def _said(working: Working) -> dict[str, Any]:
    return {
        "answer": in_words(working.answer),
        "verdict": kept_word(working.verdict) if working.verdict else "",
        "met": working.verdict == "met",
        "margin": in_words(working.margin),
        "steps": [
            {name: in_words(getattr(one, name)) for name in ("what", "how", "result", "source")}
            for one in working.steps
        ],
        "tables": [
            {
                "caption": in_words(one.caption),
                "head": [in_words(cell) for cell in one.head],
                "rows": [[in_words(cell) for cell in row] for row in one.rows],
            }
            for one in working.tables
        ],
        "cautions": [in_words(one) for one in working.cautions],
        # Drawn by our own code from numbers; it escapes every text that it takes.
        "picture": mark_safe(working.picture),
    }
