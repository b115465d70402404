"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.freezer_runs import views

urlpatterns: list[URLPattern] = [
    path("freezer-runs/", views.freezer_runs, name="freezer-runs"),
    path("freezer-runs/new/", views.new, name="freezer-run-new"),
    path("freezer-runs/<int:run>/", views.freezer_run, name="freezer-run"),
    path("freezer-runs/<int:run>/draw/", views.draw, name="freezer-run-draw"),
    path("freezer-runs/<int:run>/drawn/", views.drawn, name="freezer-run-drawn"),
    path("freezer-runs/<int:run>/say/<slug:what>/", views.event, name="freezer-run-event"),
    path("freezer-runs/events/<int:number>/amend/", views.amend, name="freezer-run-amend"),
]
