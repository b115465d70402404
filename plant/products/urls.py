"""Routes of this feature, under /plant/, in the namespace plant."""

from django.urls import URLPattern, path

from plant.products import views

urlpatterns: list[URLPattern] = [
    path("products/", views.products, name="products"),
    path("products/add/", views.product_add, name="product-add"),
    path("products/<slug:code>/", views.product, name="product"),
]
