"""Routes of the calculators, under /plant/, in the namespace plant."""

from django.urls import URLPattern, path

from plant.calculators import views

urlpatterns: list[URLPattern] = [
    path("calculators/", views.index, name="calculators"),
    path("calculators/<slug:key>/", views.calculator, name="calculator"),
]
