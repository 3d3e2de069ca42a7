"""The administrator's pages: the district, its schools and rooms, its people."""

from __future__ import annotations

from datetime import timedelta
from typing import Any, TypeVar

from django import forms
from django.conf import settings
from django.db.models import Q
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.models import SignOn, User
from core.responses import home_url
from core.runs import BACKUP, last_runs
from core.second_steps import has_second_step
from core.services.accounts import LINK_GOOD_FOR, make_link, set_first_password
from core.services.second_steps import reset_second_step
from core.services.sign_on import unlink_sign_on
from core.tables import BaseTable, show_page
from core.views import FormView, StaffRequest, keep_session, keep_to_show, row_or_404, show_once
from inventory.catalog.load import catalog, override_folder
from inventory.exceptions import RefusedError
from inventory.forms.setup import DistrictForm, GiveRoleForm, NameForm, PasswordForm, PersonForm, RoomForm, SchoolForm
from inventory.models import District, School, StaffRole
from inventory.pages.setup import catalog_lines, role_words, roles_of_people
from inventory.selectors.register import proposed_number
from inventory.selectors.setup import rooms_with_counts, schools_with_counts, unverified_kinds
from inventory.services.people import (
    add_person,
    add_room,
    add_school,
    change_person,
    change_school,
    give_role,
    remove_role,
    set_active,
    set_up_district,
)
from inventory.tables import PeopleTable, SchoolTable

PER_PAGE = 50
Paged = TypeVar("Paged", bound=BaseTable)
SETTINGS, PEOPLE = "inventory.manage_settings", "inventory.manage_people"


def paged(request: StaffRequest, table: Paged) -> Paged:
    show_page(table, request, per_page=PER_PAGE)
    return table


class SettingsView(FormView):
    """Settings of the whole district, and facts about this installation."""

    permission_required = SETTINGS
    template_name = "inventory/settings.html"
    row_name = "district"
    refused_field = "next_asset_number"

    def row(self, **lookup: Any) -> District | None:
        return District.objects.first()

    def form(self, row: District | None, data: Any = None) -> DistrictForm:
        # What is sent gets a row of its own: a refused form leaves its words there, and the page shows what is stored.
        return DistrictForm(data, instance=row if data is None else self.row())

    def context(self, row: District | None, form: DistrictForm) -> dict[str, Any]:
        backup = last_runs().get(BACKUP)
        return {
            "next_number": proposed_number(row),
            "is_https": settings.PUBLIC_ADDRESS.startswith("https://"),
            "lines": catalog_lines(catalog()),
            "unverified": unverified_kinds(),
            "own_folder": override_folder(),
            "data_folder": settings.VAR_DIR,
            "media_folder": settings.MEDIA_ROOT,
            "backup": backup,
            "is_backup_running": backup is not None and backup.is_running(at=timezone.now()),
            "school_count": School.objects.count(),
            "people_count": User.objects.filter(is_active=True).count(),
        }

    def save(self, row: District | None, form: DistrictForm) -> str:
        set_up_district(**self.actor_and_time(), **form.cleaned_data)
        return self.done(gettext("Saved."), "inventory:settings")


class SchoolsView(FormView):
    permission_required = SETTINGS
    template_name = "inventory/schools.html"
    form_class = SchoolForm
    refused_field = "code"

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponseBase:
        if "file" in request.GET and (
            file := self.list_export(self.table(), what="schools", title=gettext("Schools"), schools=())
        ):
            return file
        return super().get(request)

    def table(self) -> BaseTable:
        return paged(self.request, SchoolTable(schools_with_counts()))

    def context(self, row: None, form: SchoolForm) -> dict[str, Any]:
        return {"table": self.table()}

    def save(self, row: None, form: SchoolForm) -> str:
        school = add_school(**self.actor_and_time(), **form.cleaned_data)
        words = gettext("%(school)s added. Now add its rooms.") % {"school": school.name}
        return self.done(words, "inventory:school", school.code)


class SchoolView(FormView):
    """One school: its name, and its rooms."""

    permission_required = SETTINGS
    template_name = "inventory/schools_one.html"
    row_name = "school"

    def row(self, **lookup: Any) -> School:
        return row_or_404(School.objects.visible_to(self.request.user), **lookup)

    def form(self, row: School, data: Any = None) -> forms.Form:
        return RoomForm(data) if data is not None and "room" in data else SchoolForm(data, school=row)

    def context(self, row: School, form: forms.Form) -> dict[str, Any]:
        is_room = isinstance(form, RoomForm)
        return {
            "rooms": rooms_with_counts(row),
            "form": SchoolForm(school=row) if is_room else form,
            "room_form": form if is_room else RoomForm(),
        }

    def save(self, row: School, form: forms.Form) -> str:
        if isinstance(form, RoomForm):
            sent = form.cleaned_data
            add_room(school=row, name=sent["room"], nonce=sent["nonce"], **self.actor_and_time())
            return self.done(gettext("Room added."), "inventory:school", row.code)
        change_school(school=row, **self.actor_and_time(), **form.cleaned_data)
        return self.done(gettext("Saved."), "inventory:school", row.code)


class PeopleView(FormView):
    permission_required = PEOPLE
    template_name = "inventory/people.html"
    form_class = PersonForm

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponseBase:
        if "file" in request.GET:
            table = self.table()
            table.roles_of = roles_of_people(list(table.data.data))
            if file := self.list_export(table, what="people", title=gettext("People"), schools=()):
                return file
        return super().get(request)

    def typed(self) -> str:
        return self.request.GET.get("q", "").strip()[:100]

    def table(self) -> PeopleTable:
        rows, typed = User.objects.all(), self.typed()
        if typed:
            rows = rows.filter(Q(name__icontains=typed) | Q(username__icontains=typed))
        return paged(self.request, PeopleTable(rows, roles_of={}))

    def context(self, row: None, form: PersonForm) -> dict[str, Any]:
        table = self.table()
        table.roles_of = roles_of_people([line.record for line in table.paginated_rows])
        return {"table": table, "q": self.typed()}

    def save(self, row: None, form: PersonForm) -> str:
        person = add_person(is_first=True, **self.actor_and_time(), **form.person())
        return self.done(gettext("%(name)s added.") % {"name": person.name}, "inventory:person", person.pk)


class PersonView(FormView):
    """One person: name, roles, a new password, active or deactivated. Each act on the page has a form of its own."""

    permission_required = PEOPLE
    template_name = "inventory/person.html"
    row_name = "person"
    form_name = "name_form"  # what the template calls the form that this address takes

    def row(self, **lookup: Any) -> User:
        return row_or_404(User.objects.all(), **lookup)

    def form(self, row: User, data: Any = None) -> forms.BaseForm:
        return NameForm(data, person=row)

    def context(self, row: User, form: forms.BaseForm) -> dict[str, Any]:
        held = StaffRole.objects.filter(user=row).select_related("school").order_by("pk")
        take = reverse("inventory:take-role", args=[row.pk])
        return {
            "roles": [{"text": role_words(role), "sends": "role", "value": role.pk, "url": take} for role in held],
            "name_form": NameForm(person=row),
            "role_form": GiveRoleForm(),
            "password_form": PasswordForm(),
            "is_self": row.pk == self.request.user.pk,
            "has_step": has_second_step(row),
            "sign_on": SignOn.objects.filter(user=row).first(),
            self.form_name: form,
        }

    def save(self, row: User, form: Any) -> str:
        change_person(user=row, **self.actor_and_time(), **form.cleaned_data)
        return self.done(gettext("Saved."), "inventory:person", row.pk)


class PersonActView(PersonView, is_base=True):
    """An act on a person. Those without a field are refused in words above the page."""

    http_method_names = ["post"]
    form_name = "form"

    def form(self, row: User, data: Any = None) -> forms.BaseForm:
        return self.form_class(data)


class GiveRoleView(PersonActView):
    permission_required = PEOPLE
    form_class, form_name = GiveRoleForm, "role_form"

    def save(self, row: User, form: GiveRoleForm) -> str:
        give_role(user=row, **self.actor_and_time(), **form.cleaned_data)
        keep_session(self.request)
        return self.done(gettext("Role added."), "inventory:person", row.pk)


class RemoveRoleView(PersonActView):
    permission_required = PEOPLE

    def save(self, row: User, form: forms.Form) -> str:
        named = self.request.POST.get("role", "")
        if not named:
            raise RefusedError(gettext("Choose the role to remove."))
        remove_role(held=row_or_404(StaffRole.objects.filter(user=row), pk=named), **self.actor_and_time())
        keep_session(self.request)
        if row.pk == self.request.user.pk:  # who gave up a role of their own may no longer see this page
            return self.done(gettext("Role removed."), "desk:today")
        return self.done(gettext("Role removed."), "inventory:person", row.pk)


class PasswordView(PersonActView):
    permission_required = PEOPLE
    form_class, form_name, refused_field = PasswordForm, "password_form", "password"

    def save(self, row: User, form: PasswordForm) -> str:
        if row.pk == self.request.user.pk:
            return reverse("core:password")  # one's own: the old one is asked for
        set_first_password(user=row, **self.actor_and_time(), **form.cleaned_data)
        words = gettext("First password set. It works until %(name)s has logged in and chosen another.")
        return self.done(words % {"name": row.name}, "inventory:person", row.pk)


class MakeLinkView(PersonActView):
    """Makes a one-time link, and shows it once."""

    permission_required = PEOPLE
    http_method_names = ["get", "post"]

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        row = self.row(**lookup)
        token = show_once(request, f"link {row.pk}")
        if token is None:
            return redirect("inventory:person", row.pk)
        link, hours = home_url(request) + reverse("core:link", args=[token]), LINK_GOOD_FOR // timedelta(hours=1)
        return render(request, "inventory/person_link.html", {"person": row, "link": link, "hours": hours})

    def save(self, row: User, form: forms.Form) -> str:
        keep_to_show(self.request, f"link {row.pk}", make_link(user=row, **self.actor_and_time()))
        return reverse("inventory:make-link", args=[row.pk])


class ResetStepView(PersonActView):
    """For somebody who lost the phone and the recovery codes."""

    permission_required = PEOPLE

    def save(self, row: User, form: forms.Form) -> str:
        if row.pk == self.request.user.pk:
            return reverse("core:me")
        reset_second_step(user=row, **self.actor_and_time())
        words = gettext("Second step removed. %(name)s is logged out everywhere and logs in with the password alone.")
        return self.done(words % {"name": row.name}, "inventory:person", row.pk)


class UnlinkView(PersonActView):
    """For an account elsewhere that somebody else holds by now."""

    permission_required = PEOPLE

    def save(self, row: User, form: forms.Form) -> str:
        unlink_sign_on(user=row, **self.actor_and_time())
        keep_session(self.request)
        words = gettext("The account is no longer linked. %(name)s is logged out everywhere.")
        return self.done(words % {"name": row.name}, "inventory:person", row.pk)


class ActiveView(PersonActView):
    permission_required = PEOPLE

    def save(self, row: User, form: forms.Form) -> str:
        is_active = self.request.POST.get("active") == "1"
        set_active(user=row, is_active=is_active, **self.actor_and_time())
        words = gettext("Activated.") if is_active else gettext("Deactivated. What they did stays in the log.")
        return self.done(words, "inventory:person", row.pk)
