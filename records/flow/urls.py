"""Routes of this feature."""

from __future__ import annotations

from django.urls import path

from records.flow import floor_views, views

urlpatterns = [
    path("floor/", floor_views.floor, name="floor"),
    path("vessel/<slug:code>/", floor_views.vessel, name="vessel"),
    path("vessel/<slug:code>/washed/", views.washed, {"what": "washed"}, name="washed"),
    path("vessel/<slug:code>/sanitized/", views.washed, {"what": "sanitized"}, name="sanitized"),
    path("vessel/<slug:code>/wash-begins/", views.wash_begins, name="wash-begins"),
    path("vessel/<slug:code>/wash-begun/<int:number>/not-done/", views.wash_not_done, name="wash-not-done"),
    path("vessel/<slug:code>/level/", views.level, name="level"),
    path("vessel/<slug:code>/service/", views.service, name="service"),
    path("movement/new/", views.movement_new, name="movement-new"),
    path("movement/<int:number>/", floor_views.movement, name="movement"),
    path("movement/<int:number>/end/", views.movement_end, name="movement-end"),
    path("movement/<int:number>/amend/", views.movement_amend, name="movement-amend"),
    path("event/", views.event, name="event"),
    path("no-production/", views.no_production, name="no-production"),
]
