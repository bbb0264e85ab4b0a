"""Addresses of the wing `people`."""

from django.urls import path

from recycling.web.people import (
    keys,
    members,
    own_account,
    passwords,
    second_step,
    sign_in,
    sign_in_code,
    tablet_acting,
    tablets,
)

open_patterns = [
    path("", sign_in.home, name="home"),
    path("sign-in/", sign_in.SignIn.as_view(), name="sign-in"),
    path("sign-in/code/", sign_in_code.sign_in_code, name="sign-in-code"),
    path("sign-out/", sign_in.SignOut.as_view(), name="sign-out"),
    path("password/<str:token>/", passwords.by_link, name="password-set"),
    path("workshops/", sign_in.choose_workshop, name="choose-workshop"),
    path("workshops/switch/", sign_in.switch_workshop, name="switch-workshop"),
    path("password/", own_account.PasswordChange.as_view(), name="password-change"),
]

urlpatterns = [
    path("acting/", tablet_acting.act_as, name="act-as"),
    path("acting/go-on/", tablet_acting.go_on, name="go-on"),
    path("lock/", tablet_acting.lock, name="lock"),
    path("account/", own_account.account, name="account"),
    path("account/sessions/end/", own_account.session_end_page, name="session-end"),
    path("account/second-step/", second_step.second_step_page, name="second-step"),
    path("account/pin/remove/", own_account.pin_remove_page, name="pin-remove"),
    path("set-up/tablets/", tablets.tablets_page, name="set-up-tablets"),
    path("set-up/tablets/lock-time/", tablets.lock_time_page, name="lock-time"),
    path("set-up/tablets/<int:tablet>/revoke/", tablets.tablet_revoke_page, name="tablet-revoke"),
    path("set-up/keys/<int:key>/revoke/", keys.key_revoke_page, name="key-revoke"),
    path("set-up/keys/", keys.keys_page, name="set-up-keys"),
    path("set-up/workshop/", members.workshop_page, name="workshop-change"),
    path("set-up/members/<int:member>/", members.member_page, name="member-change"),
    path("set-up/members/<int:member>/erase/", members.member_erase_page, name="member-erase"),
    path("set-up/members/<int:member>/password/", members.member_password, name="member-password"),
    path(
        "set-up/members/<int:member>/second-step/",
        members.member_second_step,
        name="member-second-step",
    ),
]
