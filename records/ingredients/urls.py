"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.ingredients import views

urlpatterns: list[URLPattern] = [
    path("ingredients/", views.ingredients, name="ingredients"),
    path("ingredients/received/", views.received, name="ingredient-received"),
    path("ingredients/stock/", views.stock, name="ingredient-stock"),
    path("ingredients/supplier/", views.approve, name="supplier-approve"),
    path("ingredients/entry/<int:number>/", views.entry, name="ingredient-entry"),
    path("ingredients/entry/<int:number>/amend/", views.amend, name="ingredient-amend"),
    path("ingredients/entry/<int:number>/amend-approval/", views.amend_approval, name="supplier-amend"),
    path("ingredients/entry/<int:number>/certificate/", views.certificate, name="ingredient-certificate"),
]
