"""Addresses of the pages that read, below a workshop's own address."""

from django.urls import path, register_converter
from django.urls.converters import StringConverter

from recycling.web import legend
from recycling.web import planning as today
from recycling.web.balance import balance
from recycling.web.integrity import audit
from recycling.web.lots import holds, lineages, lots, origins, stock
from recycling.web.pages import find
from recycling.web.runs import runs


class TypedCode(StringConverter):
    """Anything with a figure in it, so that a mistyped code gets an answer of its own."""

    regex = "(?=[^/]*[0-9])[^/]{1,40}"


register_converter(TypedCode, "typed_code")

urlpatterns = [
    path("", today.today, name="today"),
    path("find/", find.find, name="find"),
    path("stock/", stock.stock, name="stock"),
    path("spools/", stock.spools, name="spools"),
    path("lots/<typed_code:code>/", lots.lot, name="lot"),
    path("lots/<typed_code:code>/lineage/", lineages.lineage, name="lot-lineage"),
    path("collections/", origins.collections, name="collections"),
    path("collections/<typed_code:code>/", origins.collection, name="collection"),
    path("runs/", runs.runs, name="runs"),
    path("runs/<typed_code:code>/", runs.run, name="run"),
    path("balance/", balance.balance, name="balance"),
    path("holds/", holds.holds, name="holds"),
    path("legend/", legend.legend, name="legend"),
    path("audit/", audit.audit, name="audit"),
]
