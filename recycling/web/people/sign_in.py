"""Signing in and out, and choosing the workshop to work in."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from recycling.queries.people.members import Membership, memberships
from recycling.queries.people.second_step import second_step_of
from recycling.services.people.sign_in_try import sign_in_right, sign_in_try
from recycling.web.addresses import address_of
from recycling.web.book_away import too_often_page
from recycling.web.people.devices import session_begun
from recycling.web.people.sign_in_code import ask_for_code
from shared.errors import TooOften


class SignIn(LoginView):
    template_name = "people/sign_in.html"
    redirect_authenticated_user = True

    def post(self, request, *args, **kwargs):
        """Count the try before the password is looked at; a right one is taken off again."""
        try:
            sign_in_try(address_of(request))
        except TooOften as often:
            return too_often_page(request, often)
        return super().post(request, *args, **kwargs)

    def form_valid(self, form):
        """Sign in, or ask for the code first where the person has a second step."""
        if second_step_of(form.get_user().pk) is not None:
            ask_for_code(self.request, form.get_user(), self.get_success_url())
            sign_in_right(address_of(self.request))
            return redirect("sign-in-code")
        answer = super().form_valid(form)
        sign_in_right(address_of(self.request))
        session_begun(self.request)
        return answer

    def get_default_redirect_url(self) -> str:
        return reverse("home")

    def form_invalid(self, form):
        answer = super().form_invalid(form)
        answer.status_code = 422
        return answer


class SignOut(LogoutView):
    """Entries that wait on the device stay there: they are sent when their author is back."""

    http_method_names = ["post", "options"]

    def post(self, request, *args, **kwargs):
        answer = super().post(request, *args, **kwargs)
        if request.is_secure():
            answer["Clear-Site-Data"] = '"cache"'
        return answer


def _workshops_of(request: HttpRequest) -> list[Membership]:
    return memberships(request.user.pk) if request.user.pk else []


@require_safe
@login_required
def home(request: HttpRequest) -> HttpResponse:
    """Lead to the day's page of the workshop worked in last, or the only one."""
    slugs = [one.slug for one in _workshops_of(request)]
    last = request.session.get("workshop")
    if last in slugs or len(slugs) == 1:
        return redirect("today", slug=last if last in slugs else slugs[0])
    return redirect("choose-workshop")


@require_safe
@login_required
def choose_workshop(request: HttpRequest) -> HttpResponse:
    workshops = _workshops_of(request)
    return render(request, "people/choose_workshop.html", {"workshops": workshops})


@require_POST
@login_required
def switch_workshop(request: HttpRequest) -> HttpResponse:
    """Work in another of one's own workshops; anybody else's does not exist."""
    slug = request.POST.get("workshop", "")
    if slug not in {one.slug for one in _workshops_of(request)}:
        return redirect("choose-workshop")
    request.session["workshop"] = slug
    return redirect("today", slug=slug)
