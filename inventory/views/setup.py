"""The administrator's pages: the district, its schools and rooms, its people."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django_tables2 import RequestConfig

from core.models import User
from core.views import StaffRequest, StaffView, row_or_404
from inventory.catalog.load import catalog, override_folder
from inventory.exceptions import RefusedError
from inventory.forms.setup import DistrictForm, NameForm, PasswordForm, PersonForm, RoleForm, RoomForm, SchoolForm
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
    set_password,
    set_up_district,
)
from inventory.tables import PeopleTable, SchoolTable

PER_PAGE = 50


class SettingsView(StaffView):
    """Settings of the whole district, and facts about this installation."""

    permission_required = "inventory.manage_settings"

    def shown(self, form: DistrictForm, district: District | None, *, status: int = 200) -> HttpResponse:
        context: dict[str, Any] = {
            "form": form,
            "district": district,
            "next_number": proposed_number(district),
            "is_https": settings.PUBLIC_ADDRESS.startswith("https://"),
            "lines": catalog_lines(catalog()),
            "figures": catalog().setting_notes.values(),
            "unverified": unverified_kinds(),
            "own_folder": override_folder(),
            "data_folder": settings.VAR_DIR,
            "media_folder": settings.MEDIA_ROOT,
            "school_count": School.objects.count(),
            "people_count": User.objects.filter(is_active=True).count(),
        }
        return render(self.request, "inventory/settings.html", context, status=status)

    def get(self, request: StaffRequest) -> HttpResponse:
        district = District.objects.first()
        return self.shown(DistrictForm(instance=district), district)

    def post(self, request: StaffRequest) -> HttpResponse:
        form = DistrictForm(request.POST, instance=District.objects.first())
        if form.is_valid():
            try:
                set_up_district(actor=request.user, at=timezone.now(), **form.cleaned_data)
            except RefusedError as error:
                form.add_error("next_asset_number", str(error))
            else:
                messages.success(request, gettext("Saved."))
                return redirect("inventory:settings")
        return self.shown(form, District.objects.first(), status=422)


class SchoolsView(StaffView):
    permission_required = "inventory.manage_settings"

    def shown(self, request: StaffRequest, form: SchoolForm, *, status: int = 200) -> HttpResponse:
        table = SchoolTable(schools_with_counts())
        RequestConfig(request, paginate={"per_page": PER_PAGE, "silent": True}).configure(table)
        return render(request, "inventory/schools.html", {"table": table, "form": form}, status=status)

    def get(self, request: StaffRequest) -> HttpResponse:
        return self.shown(request, SchoolForm())

    def post(self, request: StaffRequest) -> HttpResponse:
        form = SchoolForm(request.POST)
        if form.is_valid():
            try:
                school = add_school(actor=request.user, at=timezone.now(), **form.cleaned_data)
            except RefusedError as error:
                form.add_error("code", str(error))
            else:
                messages.success(request, gettext("%(school)s added. Now add its rooms.") % {"school": school.name})
                return redirect("inventory:school", school.code)
        return self.shown(request, form, status=422)


class SchoolView(StaffView):
    """One school: its name, and its rooms."""

    permission_required = "inventory.manage_settings"

    def school(self, code: str) -> School:
        return row_or_404(School.objects.visible_to(self.request.user), code=code)

    def shown(
        self, school: School, *, form: SchoolForm | None = None, room: RoomForm | None = None, status: int = 200
    ) -> HttpResponse:
        context = {
            "school": school,
            "rooms": rooms_with_counts(school),
            "form": form or SchoolForm(school=school),
            "room_form": room or RoomForm(),
        }
        return render(self.request, "inventory/schools_one.html", context, status=status)

    def get(self, request: StaffRequest, code: str) -> HttpResponse:
        return self.shown(self.school(code))

    def post(self, request: StaffRequest, code: str) -> HttpResponse:
        school = self.school(code)
        if "room" in request.POST:
            return self.add_room(school)
        form = SchoolForm(request.POST, school=school)
        if not form.is_valid():
            return self.shown(school, form=form, status=422)
        change_school(school=school, actor=request.user, at=timezone.now(), **form.cleaned_data)
        messages.success(request, gettext("Saved."))
        return redirect("inventory:school", school.code)

    def add_room(self, school: School) -> HttpResponse:
        form = RoomForm(self.request.POST)
        if not form.is_valid():
            return self.shown(school, room=form, status=422)
        add_room(school=school, name=form.cleaned_data["room"], actor=self.request.user, at=timezone.now())
        messages.success(self.request, gettext("Room added."))
        return redirect("inventory:school", school.code)


class PeopleView(StaffView):
    permission_required = "inventory.manage_people"

    def get(self, request: StaffRequest) -> HttpResponse:
        return self.shown(PersonForm(), RoleForm(prefix="first"))

    def shown(self, form: PersonForm, role_form: RoleForm, *, status: int = 200) -> HttpResponse:
        rows = User.objects.all()
        typed = self.request.GET.get("q", "").strip()[:100]
        if typed:
            rows = rows.filter(Q(name__icontains=typed) | Q(username__icontains=typed))
        table = PeopleTable(rows, roles_of={})
        RequestConfig(self.request, paginate={"per_page": PER_PAGE, "silent": True}).configure(table)
        table.roles_of = roles_of_people([row.record for row in table.paginated_rows])
        context = {"table": table, "form": form, "role_form": role_form, "q": typed}
        return render(self.request, "inventory/people.html", context, status=status)

    def post(self, request: StaffRequest) -> HttpResponse:
        form, role_form = PersonForm(request.POST), RoleForm(request.POST, prefix="first")
        if form.is_valid() and role_form.is_valid():
            now = timezone.now()
            try:
                person = add_person(actor=request.user, at=now, first_role=role_form.cleaned_data, **form.cleaned_data)
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                messages.success(request, gettext("%(name)s added.") % {"name": person.name})
                return redirect("inventory:person", person.pk)
        return self.shown(form, role_form, status=422)


class PersonView(StaffView):
    """One person: name, roles, a new password, active or deactivated."""

    permission_required = "inventory.manage_people"

    def person(self, pk: int) -> User:
        return row_or_404(User.objects.all(), pk=pk)

    def shown(self, person: User, *, status: int = 200, **forms: Any) -> HttpResponse:
        held = StaffRole.objects.filter(user=person).select_related("school").order_by("pk")
        context = {
            "person": person,
            "roles": [(role, role_words(role)) for role in held],
            "name_form": NameForm(person=person),
            "role_form": RoleForm(),
            "password_form": PasswordForm(),
            "is_self": person.pk == self.request.user.pk,
        } | forms
        return render(self.request, "inventory/person.html", context, status=status)

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        return self.shown(self.person(pk))

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        person = self.person(pk)
        form = NameForm(request.POST, person=person)
        if not form.is_valid():
            return self.shown(person, name_form=form, status=422)
        change_person(user=person, actor=request.user, at=timezone.now(), **form.cleaned_data)
        return self.done(person, gettext("Saved."))

    def done(self, person: User, message: str) -> HttpResponse:
        messages.success(self.request, message)
        return redirect("inventory:person", person.pk)


class GiveRoleView(PersonView):
    permission_required = "inventory.manage_people"
    http_method_names = ["post"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        person, form = self.person(pk), RoleForm(request.POST)
        if not form.is_valid():
            return self.shown(person, role_form=form, status=422)
        give_role(user=person, actor=request.user, at=timezone.now(), **form.cleaned_data)
        return self.done(person, gettext("Role added."))


class RemoveRoleView(PersonView):
    permission_required = "inventory.manage_people"
    http_method_names = ["post"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        person, named = self.person(pk), request.POST.get("role", "")
        if not named:
            return self.shown(person, refused=gettext("Choose the role to remove."), status=422)
        held = row_or_404(StaffRole.objects.filter(user=person), pk=named)
        try:
            remove_role(held=held, actor=request.user, at=timezone.now())
        except RefusedError as error:
            return self.shown(person, refused=str(error), status=422)
        if not request.user.has_perm(self.permission_required) or person.pk == request.user.pk:
            messages.success(request, gettext("Role removed."))
            return redirect(reverse("desk:today"))
        return self.done(person, gettext("Role removed."))


class PasswordView(PersonView):
    permission_required = "inventory.manage_people"
    http_method_names = ["post"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        person, form = self.person(pk), PasswordForm(request.POST)
        if form.is_valid():
            try:
                set_password(user=person, password=form.cleaned_data["password"], actor=request.user, at=timezone.now())
            except RefusedError as error:
                form.add_error("password", str(error))
            else:
                return self.done(person, gettext("Password changed. Share it with nobody else."))
        return self.shown(person, password_form=form, status=422)


class ActiveView(PersonView):
    permission_required = "inventory.manage_people"
    http_method_names = ["post"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        person, is_active = self.person(pk), request.POST.get("active") == "1"
        try:
            set_active(user=person, is_active=is_active, actor=request.user, at=timezone.now())
        except RefusedError as error:
            return self.shown(person, refused=str(error), status=422)
        return self.done(
            person, gettext("Activated.") if is_active else gettext("Deactivated. What they did stays in the log.")
        )
