"""Addresses of the wing `balance`."""

from django.urls import path

from recycling.web.balance import balance, closures, doubts, reconciliations, weighing, yields

urlpatterns = [
    path("closures/", closures.closures_page, name="closures"),
    path("doubts/<int:number>/right/", doubts.doubt_right, name="doubt-right"),
    path("weighing/", weighing.weighing_page, name="weighing"),
    path("weighing/samples/new/", weighing.sample_new, name="sample-new"),
    path("yields/", yields.yields_page, name="yields"),
    path("reconciliations/", reconciliations.reconciliations_page, name="reconciliations"),
    path("reconciliations/new/", reconciliations.reconciliation_new, name="reconciliation-new"),
    path(
        "reconciliations/<int:number>/",
        reconciliations.reconciliation_page,
        name="reconciliation",
    ),
    path("balance/", balance.balance, name="balance"),
]
