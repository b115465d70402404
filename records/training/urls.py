"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.training import views

urlpatterns: list[URLPattern] = [
    path("training/", views.training, name="training"),
    path("training/new/", views.new, name="training-new"),
    path("training/person/<uuid:person_id>/", views.person, name="training-person"),
    path("training/entry/<int:number>/", views.entry, name="training-entry"),
    path("training/entry/<int:number>/amend/", views.amend, name="training-amend"),
    path("training/entry/<int:number>/certificate/", views.certificate, name="training-certificate"),
]
