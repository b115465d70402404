"""Routes of this feature, in the namespace records."""

from __future__ import annotations

from django.urls import path

from records.lots import views

urlpatterns = [
    path("lots/", views.lots, name="lots"),
    path("lots/<uuid:lot_id>/", views.lot, name="lot"),
]
