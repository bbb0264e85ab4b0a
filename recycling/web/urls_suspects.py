"""Addresses of the pages from a bad spool to the cause; one of them names no workshop."""

from django.urls import path

from recycling.web.labels import links
from recycling.web.labels import spool_page as public
from recycling.web.quality import verdicts
from recycling.web.suspects import affected, contents, findings
from recycling.web.suspects import ranking as suspects

public_patterns = [path("v/<str:token>/", public.spool, name="public-spool")]

urlpatterns = [
    path("suspects/", suspects.suspects, name="suspects"),
    path("suspects/keep/", suspects.keep, name="finding-keep"),
    path("suspects/affected/", affected.affected, name="affected"),
    path("suspects/notice/", affected.notice, name="suspect-notice"),
    path("suspects/way/", affected.way, name="suspect-way"),
    path("suspects/hold/", affected.hold, name="suspect-hold"),
    path("suspects/findings/", findings.findings, name="findings"),
    path("suspects/findings/<int:number>/", findings.finding, name="finding"),
    path("suspects/findings/<int:number>/data.json", findings.data, name="finding-data"),
    path("verdicts/", verdicts.verdicts, name="verdicts"),
    path("verdicts/<int:verdict>/photo/", verdicts.photo, name="verdict-photo"),
    path("verdicts/<int:verdict>/decide/", verdicts.decide, name="verdict-decide"),
    path("lots/<str:code>/contents/", contents.contents, name="spool-contents"),
    path("lots/<str:code>/public/", links.link, name="spool-link"),
    path("lots/<str:code>/public/change/", links.change, name="spool-link-change"),
]
