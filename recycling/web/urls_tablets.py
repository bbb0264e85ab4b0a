"""Addresses of shared tablets and of one's own account."""

from django.urls import path

from recycling.web.people import own_account as account
from recycling.web.people import tablet_acting as acting
from recycling.web.people import tablets as setting_up

root_patterns = [path("password/", account.PasswordChange.as_view(), name="password-change")]
urlpatterns = [
    path("acting/", acting.act_as, name="act-as"),
    path("acting/go-on/", acting.go_on, name="go-on"),
    path("lock/", acting.lock, name="lock"),
    path("account/", account.account, name="account"),
    path("account/pin/remove/", account.pin_remove_page, name="pin-remove"),
    path("set-up/tablets/", setting_up.tablets_page, name="set-up-tablets"),
    path("set-up/tablets/lock-time/", setting_up.lock_time_page, name="lock-time"),
    path(
        "set-up/tablets/<int:tablet>/revoke/", setting_up.tablet_revoke_page, name="tablet-revoke"
    ),
]
