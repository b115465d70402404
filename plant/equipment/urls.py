"""Routes of this feature, under /plant/, in the namespace plant."""

from django.urls import URLPattern, path

from plant.equipment import views

urlpatterns: list[URLPattern] = [
    path("equipment/", views.equipment, name="equipment"),
    path("equipment/<slug:table>/add/", views.thing_add, name="thing-add"),
    path("equipment/<slug:table>/<slug:code>/", views.thing, name="thing"),
    path("labels/", views.labels, name="labels"),
    path("labels/<slug:code>.svg", views.qr, name="qr"),
]
