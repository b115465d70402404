"""Routes of this feature, in the namespace records."""

from __future__ import annotations

from django.urls import URLPattern, path

from records.laboratory import views

urlpatterns: list[URLPattern] = [
    path("samples/", views.samples, name="samples"),
    path("samples/new/", views.new, name="sample-new"),
    path("samples/table/", views.table, name="samples-table"),
    path("samples/sites/", views.sites_by_zone, name="samples-sites"),
    path("samples/retained/", views.retained_samples, name="samples-retained"),
    path("samples/trend/", views.trend, name="samples-trend"),
    path("samples/<int:number>/", views.sample, name="sample"),
    path("samples/<int:number>/amend/", views.amend, name="sample-amend"),
    path("samples/<int:number>/result/", views.result, name="sample-result"),
    path("samples/results/<int:number>/amend/", views.amend_result, name="sample-result-amend"),
]
