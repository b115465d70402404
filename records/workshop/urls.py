"""Routes of this feature."""

from __future__ import annotations

from django.urls import path

from records.workshop import amend_views, views

urlpatterns = [
    path("workshop/", views.workshop, name="workshop"),
    path("workshop/place/<slug:code>/", views.place, name="workshop-place"),
    path("workshop/place/<slug:code>/worked/", views.work, name="workshop-work"),
    path("workshop/place/<slug:code>/test/", views.test, name="workshop-test"),
    path("workshop/place/<slug:code>/holding-time/", views.holding, name="workshop-holding"),
    path("workshop/place/<slug:code>/seal/", views.seal, name="workshop-seal"),
    path("workshop/instrument/<slug:instrument>/calibration/", views.calibration, name="workshop-calibration"),
    path("workshop/instrument/<slug:instrument>/revise/", amend_views.revise_instrument, name="workshop-revise"),
    path("workshop/entry/<int:number>/", views.entry, name="workshop-entry"),
    path("workshop/entry/<int:number>/amend/", amend_views.amend, name="workshop-amend"),
    path("workshop/entry/<int:number>/did-not-happen/", amend_views.void, name="workshop-void"),
    path("workshop/entry/<int:number>/report/", views.report, name="workshop-report"),
    path("workshop/told/<int:number>/", views.notice, name="workshop-notice"),
]
