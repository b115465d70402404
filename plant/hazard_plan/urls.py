"""Routes of this feature, under /plant/, in the namespace plant."""

from django.urls import URLPattern, path

from plant.hazard_plan import draft_views, views

urlpatterns: list[URLPattern] = [
    path("plan/", views.plan, name="plan"),
    path("plan/<int:number>/", views.plan_version, name="plan-version"),
    path("plan/<int:number>/new-draft/", draft_views.draft_new, name="plan-new-draft"),
    path("plan/<int:number>/header/", draft_views.header, name="plan-header"),
    path("plan/<int:number>/confirm/<path:limit>/", draft_views.confirm, name="plan-confirm"),
    path("plan/<int:number>/<slug:table>/add/", draft_views.row, name="plan-row-add"),
    path("plan/<int:number>/<slug:table>/<uuid:row_id>/", draft_views.row, name="plan-row"),
    path("plan/<int:number>/<slug:table>/<uuid:row_id>/remove/", draft_views.row_remove, name="plan-row-remove"),
    path("rules/<slug:key>/", views.rules, name="rules"),
]
