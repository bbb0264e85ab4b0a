"""Addresses of the wing `setup`."""

from django.urls import path

from recycling.web.setup import change, overview, practice, register

urlpatterns = [
    path("machines/<int:machine>/barrel/", practice.barrel_change, name="barrel-change"),
    path("practice/", practice.practice, name="practice"),
    path("practice/windows/new/", practice.window_change, name="window-change"),
    path("practice/materials/<slug:kind>/", practice.material_change, name="material-change"),
    path("practice/<slug:key>/", practice.practice_change, name="practice-change"),
    path("set-up/", overview.set_up, name="set-up"),
    path("set-up/sources/<int:thing>/erase/", change.source_erase_page, name="source-erase"),
    path("set-up/<slug:kind>/", register.set_up_add, name="set-up-add"),
    path("set-up/<slug:kind>/<int:thing>/", change.set_up_change, name="set-up-change"),
]
