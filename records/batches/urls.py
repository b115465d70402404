"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.batches import views

urlpatterns: list[URLPattern] = [
    path("batches/", views.batches, name="batches"),
    path("batches/new/", views.new, name="batch-new"),
    path("batches/test/", views.test, name="blend-test"),
    path("batches/separation/", views.separation, name="separation"),
    path("batches/vitamin/", views.vitamin, name="vitamin"),
    path("batches/flavor/", views.flavor, name="flavor"),
    path("batches/<int:number>/", views.batch, name="batch"),
    path("batches/<int:number>/line/<int:line>/", views.add, name="batch-add"),
    path("batches/additions/<int:number>/confirm/", views.confirm, name="batch-confirm"),
    path("batches/entry/<int:number>/", views.entry, name="batch-entry"),
    path("batches/entry/<int:number>/amend/", views.amend, name="batch-amend"),
]
