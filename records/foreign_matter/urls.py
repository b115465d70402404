"""Routes of this feature, in the namespace records."""

from __future__ import annotations

from django.urls import URLPattern, path

from records.foreign_matter import views

urlpatterns: list[URLPattern] = [
    path("foreign-matter/", views.foreign_matter, name="foreign-matter"),
    path("foreign-matter/new/<slug:kind>/<slug:code>/", views.new, name="foreign-matter-new"),
    path("foreign-matter/entry/<int:number>/", views.entry, name="foreign-matter-entry"),
    path("foreign-matter/entry/<int:number>/photo/", views.photo, name="foreign-matter-photo"),
    path("foreign-matter/entry/<int:number>/amend/", views.amend, name="foreign-matter-amend"),
]
