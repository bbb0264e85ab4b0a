"""Addresses of the pages that say what figures mean, below a workshop's own address."""

from django.urls import path

from recycling.web import exchange as exports
from recycling.web.balance import closures, reconciliations, weighing, yields
from recycling.web.integrity import archives
from recycling.web.runs import composition_models as models

urlpatterns = [
    path("exports/", exports.exports_page, name="exports"),
    path("exports/epcis/", exports.export_epcis, name="export-epcis"),
    path("exports/epcis/tell/", exports.export_epcis_tell, name="export-epcis-tell"),
    path("exports/prov/", exports.export_prov, name="export-prov"),
    path("exports/archive/", archives.archive_new, name="export-archive"),
    path("exports/archive/<int:number>/", archives.archive_page, name="export-archive-made"),
    path(
        "exports/archive/<int:number>/file/",
        archives.archive_download,
        name="export-archive-file",
    ),
    path("closures/", closures.closures_page, name="closures"),
    path("weighing/", weighing.weighing_page, name="weighing"),
    path("weighing/samples/new/", weighing.sample_new, name="sample-new"),
    path("yields/", yields.yields_page, name="yields"),
    path("runs/<str:code>/model/", models.model_page, name="run-model"),
    path("runs/<str:code>/model/choose/", models.model_choose, name="run-model-choose"),
    path("reconciliations/", reconciliations.reconciliations_page, name="reconciliations"),
    path("reconciliations/new/", reconciliations.reconciliation_new, name="reconciliation-new"),
    path(
        "reconciliations/<int:number>/",
        reconciliations.reconciliation_page,
        name="reconciliation",
    ),
]
