"""Addresses of the wing `lots`."""

from django.urls import path

from recycling.web.lots import facts, holds, lineages, lots, origin_record, origins, stock
from recycling.web.pages import mistyped  # noqa: F401

urlpatterns = [
    path("collections/new/", origin_record.collection_new, name="collection-new"),
    path("purchases/new/", origin_record.purchase_new, name="purchase-new"),
    path("opening/new/", origin_record.opening_new, name="opening-new"),
    path("collections/<str:code>/facts/", facts.collection_facts, name="collection-facts"),
    path("lots/<str:code>/facts/", facts.lot_facts, name="lot-facts"),
    path("stock/", stock.stock, name="stock"),
    path("spools/", stock.spools, name="spools"),
    path("lots/<typed_code:code>/", lots.lot, name="lot"),
    path("lots/<typed_code:code>/lineage/", lineages.lineage, name="lot-lineage"),
    path("collections/", origins.collections, name="collections"),
    path("collections/<typed_code:code>/", origins.collection, name="collection"),
    path("holds/", holds.holds, name="holds"),
]
