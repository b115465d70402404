"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.vat_runs import views

urlpatterns: list[URLPattern] = [
    path("vat-runs/", views.vat_runs, name="vat-runs"),
    path("vat-runs/new/", views.new, name="vat-run-new"),
    path("vat-runs/<int:run>/", views.vat_run, name="vat-run"),
    path("vat-runs/<int:run>/outlet/", views.opened, name="vat-run-opened"),
    path("vat-runs/<int:run>/shut/", views.shut, name="vat-run-shut"),
    path("vat-runs/<int:run>/say/<slug:what>/", views.event, name="vat-run-event"),
    path("vat-runs/events/<int:number>/amend/", views.amend, name="vat-run-amend"),
]
