"""Products: the list and their descriptions."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from plant.equipment.views import PLANNERS
from plant.hazard_plan import approvals
from plant.products.forms import ProductForm
from plant.products.models import Product

page = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def products(request: HttpRequest) -> HttpResponse:
    """Every product with its class, fat and allergens."""
    shown = {
        "products": Product.objects.all(),
        "may_edit": bool(PLANNERS & set(getattr(request, "roles", ()))),
    }
    return render(request, "plant/products/products.html", shown)


@page
def product(request: HttpRequest, code: str) -> HttpResponse:
    """One product; once a plan is approved a change is signed, with a reason, on the records' page."""
    row = get_object_or_404(Product, code=code)
    if approvals.approved():
        return redirect("records:plant-revise", "product", code)
    return _edit(request, row)


@page
def product_add(request: HttpRequest) -> HttpResponse:
    """A new product."""
    return _edit(request, Product())


def _edit(request: HttpRequest, row: Product) -> HttpResponse:
    back = reverse("plant:products")
    form = ProductForm(request.POST if request.method == "POST" else None, instance=row, out_url=back)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, _("Saved."))
        return redirect(back)
    return render(request, "plant/equipment/thing.html", {"form": form, "what": _("Product"), "row": row})
