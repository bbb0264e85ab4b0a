"""Addresses of the wing `suspects`."""

from django.urls import path

from recycling.web.suspects import affected, contents, findings, ranking

urlpatterns = [
    path("suspects/", ranking.suspects, name="suspects"),
    path("suspects/keep/", ranking.keep, name="finding-keep"),
    path("suspects/affected/", affected.affected, name="affected"),
    path("suspects/notice/", affected.notice, name="suspect-notice"),
    path("suspects/way/", affected.way, name="suspect-way"),
    path("suspects/hold/", affected.hold, name="suspect-hold"),
    path("suspects/findings/", findings.findings, name="findings"),
    path("suspects/findings/<int:number>/", findings.finding, name="finding"),
    path("suspects/findings/<int:number>/data.json", findings.data, name="finding-data"),
    path("lots/<str:code>/contents/", contents.contents, name="spool-contents"),
]
