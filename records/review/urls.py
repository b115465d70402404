"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.review import amend_views

urlpatterns: list[URLPattern] = [
    path("readings/<int:number>/amend/", amend_views.amend, name="reading-amend"),
]
