"""Addresses of the wing `runs`."""

from django.urls import path

from recycling.web.pages import mistyped  # noqa: F401
from recycling.web.runs import (
    composition_models,
    corrections,
    facts,
    lot_actions,
    run_open,
    run_record,
    runs,
)

urlpatterns = [
    path("runs/<str:code>/model/", composition_models.model_page, name="run-model"),
    path("runs/<str:code>/model/choose/", composition_models.model_choose, name="run-model-choose"),
    path("record/<slug:stage>/", run_record.record_stage, name="record-stage"),
    path("record/<slug:stage>/open/", run_record.run_open_page, name="run-open"),
    path("runs/<str:code>/draw/", run_open.run_draw_page, name="run-draw"),
    path("runs/<str:code>/output/", run_open.run_output_page, name="run-output"),
    path("runs/<str:code>/loss/", run_open.run_loss_page, name="run-loss"),
    path("runs/<str:code>/note/", run_open.run_note_page, name="run-note"),
    path("runs/<str:code>/close/", run_open.run_close_page, name="run-close"),
    path("changes/<str:code>/undo/", facts.facts_undo_page, name="facts-undo"),
    path("runs/<str:code>/facts/", facts.run_facts, name="run-facts"),
    path("runs/<str:code>/void/", corrections.run_void_page, name="run-void"),
    path("runs/<str:code>/undo/", corrections.run_undo_page, name="run-undo"),
    path("postings/<int:posting>/undo/", corrections.posting_undo_page, name="posting-undo"),
    path(
        "postings/<int:posting>/correct/", corrections.posting_correct_page, name="posting-correct"
    ),
    path("lots/<str:code>/hold/", lot_actions.hold_page, name="lot-hold"),
    path("lots/<str:code>/event/", lot_actions.event_page, name="lot-event"),
    path("lots/<str:code>/count/", lot_actions.count_page, name="lot-count"),
    path("holds/<int:hold>/release/", lot_actions.release_page, name="hold-release"),
    path("runs/", runs.runs, name="runs"),
    path("runs/<typed_code:code>/", runs.run, name="run"),
]
