"""Addresses for coming in and going out, which name no workshop."""

from django.urls import path
from django.views.i18n import set_language

from recycling.web.people import passwords
from recycling.web.people import sign_in as account

urlpatterns = [
    path("language/", set_language, name="language"),
    path("", account.home, name="home"),
    path("sign-in/", account.SignIn.as_view(), name="sign-in"),
    path("sign-out/", account.SignOut.as_view(), name="sign-out"),
    path("password/<str:token>/", passwords.by_link, name="password-set"),
    path("workshops/", account.choose_workshop, name="choose-workshop"),
    path("workshops/switch/", account.switch_workshop, name="switch-workshop"),
]
