"""Routes: the records' pages carry the day's work; the plant's pages carry drafts and descriptions."""

from django.urls import include, path

plant_routes = (
    [
        path("", include("plant.equipment.urls")),
        path("", include("plant.products.urls")),
        path("", include("plant.hazard_plan.urls")),
        path("", include("plant.calculators.urls")),
    ],
    "plant",
)

urlpatterns = [
    path("", include("records.urls")),
    path("plant/", include(plant_routes)),
]
