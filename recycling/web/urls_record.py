"""Addresses of the pages that record, below a workshop's own address."""

from django.urls import path

from recycling.web.forms import page as pages
from recycling.web.forms import stages
from recycling.web.lists import imports
from recycling.web.lots import origin_record as origins
from recycling.web.people import keys, members
from recycling.web.runs import corrections
from recycling.web.runs import lot_actions as lots
from recycling.web.runs import run_open as open_runs
from recycling.web.runs import run_record as runs
from recycling.web.setup import change as setting_up_change
from recycling.web.setup import overview as setting_up_overview
from recycling.web.setup import register as setting_up

urlpatterns = [
    path("record/", stages.record, name="record"),
    path("record/<slug:stage>/", runs.record_stage, name="record-stage"),
    path("record/<slug:stage>/open/", runs.run_open_page, name="run-open"),
    path("recorded/<slug:token>/", pages.recorded, name="recorded"),
    path("collections/new/", origins.collection_new, name="collection-new"),
    path("purchases/new/", origins.purchase_new, name="purchase-new"),
    path("opening/new/", origins.opening_new, name="opening-new"),
    path("imports/", imports.imports_page, name="imports"),
    path("imports/template.csv", imports.template, name="import-template"),
    path("imports/<int:number>/", imports.import_page, name="import"),
    path("imports/<int:number>/progress/", imports.progress, name="import-progress"),
    path("imports/<int:number>/take/", imports.take, name="import-take"),
    path("imports/<int:number>/drop/", imports.drop, name="import-drop"),
    path("runs/<str:code>/draw/", open_runs.run_draw_page, name="run-draw"),
    path("runs/<str:code>/output/", open_runs.run_output_page, name="run-output"),
    path("runs/<str:code>/loss/", open_runs.run_loss_page, name="run-loss"),
    path("runs/<str:code>/note/", open_runs.run_note_page, name="run-note"),
    path("runs/<str:code>/close/", open_runs.run_close_page, name="run-close"),
    path("runs/<str:code>/void/", corrections.run_void_page, name="run-void"),
    path(
        "postings/<int:posting>/correct/", corrections.posting_correct_page, name="posting-correct"
    ),
    path("lots/<str:code>/hold/", lots.hold_page, name="lot-hold"),
    path("lots/<str:code>/event/", lots.event_page, name="lot-event"),
    path("lots/<str:code>/verdict/", lots.verdict_page, name="lot-verdict"),
    path("lots/<str:code>/count/", lots.count_page, name="lot-count"),
    path("holds/<int:hold>/release/", lots.release_page, name="hold-release"),
    path("set-up/", setting_up_overview.set_up, name="set-up"),
    path("set-up/keys/<int:key>/revoke/", keys.key_revoke_page, name="key-revoke"),
    path("set-up/keys/", keys.keys_page, name="set-up-keys"),
    path("set-up/workshop/", members.workshop_page, name="workshop-change"),
    path("set-up/members/<int:member>/", members.member_page, name="member-change"),
    path("set-up/members/<int:member>/password/", members.member_password, name="member-password"),
    path("set-up/<slug:kind>/", setting_up.set_up_add, name="set-up-add"),
    path("set-up/<slug:kind>/<int:thing>/", setting_up_change.set_up_change, name="set-up-change"),
]
