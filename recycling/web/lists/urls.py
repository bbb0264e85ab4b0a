"""Addresses of the wing `lists`."""

from django.urls import path

from recycling.web.lists import imports

urlpatterns = [
    path("imports/", imports.imports_page, name="imports"),
    path("imports/template.csv", imports.template, name="import-template"),
    path("imports/purchases.csv", imports.template, {"kind": "purchase"}, name="import-purchases"),
    path("imports/opening.csv", imports.template, {"kind": "opening"}, name="import-opening"),
    path("imports/<int:number>/", imports.import_page, name="import"),
    path("imports/<int:number>/progress/", imports.progress, name="import-progress"),
    path("imports/<int:number>/answers/", imports.answer, name="import-answer"),
    path("imports/<int:number>/take/", imports.take, name="import-take"),
    path("imports/<int:number>/undo/", imports.undo, name="import-undo"),
    path("imports/<int:number>/drop/", imports.drop, name="import-drop"),
]
