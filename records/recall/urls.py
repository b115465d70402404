"""Routes of this feature, in the namespace records."""

from __future__ import annotations

from django.urls import path

from records.recall import dispatch_views, recall_views, return_views, tub_views, views

urlpatterns = [
    path("recall/", recall_views.recalls, name="recalls"),
    path("recall/scope/", views.scope_page, name="recall-scope"),
    path("recall/scope.pdf", views.scope_pdf, name="recall-scope-pdf"),
    path("recall/scope.csv", views.scope_csv, name="recall-scope-csv"),
    path("recall/new/", recall_views.new, name="recall-new"),
    path("recall/<int:recall>/", recall_views.recall, name="recall"),
    path("recall/<int:recall>/say/<slug:what>/", recall_views.step, name="recall-step"),
    path("recall/<int:recall>/end/", recall_views.end, name="recall-end"),
    path("recall/steps/<int:number>/amend/", recall_views.amend, name="recall-step-amend"),
    path("dispatch/", dispatch_views.dispatches, name="dispatches"),
    path("dispatch/new/", dispatch_views.new, name="dispatch-new"),
    path("dispatch/<int:number>/", dispatch_views.dispatch, name="dispatch"),
    path("dispatch/<int:number>/amend/", dispatch_views.amend, name="dispatch-amend"),
    path("returns/new/", return_views.new, name="return-new"),
    path("returns/<int:number>/", return_views.returned, name="return"),
    path("returns/<int:number>/amend/", return_views.amend, name="return-amend"),
    path("tub/", tub_views.find, name="tub-find"),
    path("tub/<uuid:lot_id>/", tub_views.tub, name="tub"),
]
