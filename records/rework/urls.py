"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.rework import views

urlpatterns: list[URLPattern] = [
    path("rework/", views.rework, name="rework"),
    path("rework/<int:number>/", views.portion, name="rework-portion"),
    path("rework/<int:number>/use/", views.use, name="rework-use"),
    path("rework/<int:number>/thrown-away/", views.away, name="rework-away"),
]
