"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.runs import views

urlpatterns: list[URLPattern] = [
    path("runs/", views.runs, name="runs"),
    path("runs/new/", views.new, name="run-new"),
    path("runs/<int:run>/", views.run, name="run"),
    path("runs/<int:run>/product/", views.product, name="run-product"),
    path("runs/<int:run>/water/", views.out, name="run-out"),
    path("runs/<int:run>/say/<slug:what>/", views.event, name="run-event"),
    path("runs/events/<int:number>/amend/", views.amend, name="run-amend"),
]
