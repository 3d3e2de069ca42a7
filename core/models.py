"""Users and how they get in, the append-only event log with the texts it speaks of, and forms that were posted."""

from __future__ import annotations

from typing import Any, ClassVar, NoReturn, Self, TypeVar

from django.apps import apps
from django.contrib.auth import get_backends
from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _

from core.exceptions import RefusedError
from core.passwords import normalized


class UserManager(BaseUserManager["User"]):
    def create_user(self, username: str, password: str | None = None, **fields: Any) -> User:
        user = self.model(username=self.model.normalize_username(username), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, username: str | None) -> User:
        """Find by user name in any case: phone keyboards start with a capital."""
        return self.get(username__iexact=username)


class User(AbstractBaseUser):
    """A member of the staff. Permissions come from their roles, not from this row."""

    username = models.CharField(max_length=80, unique=True)
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    is_active = models.BooleanField(default=True)
    created_at = models.DateTimeField(default=timezone.now)
    # What must be done before anything else; pages of the staff lead there (core/middleware.py).
    password_is_first = models.BooleanField(default=False)  # an administrator set it, for one log-in
    second_step_due = models.BooleanField(default=False)  # a role asks for a second step, and there is none
    session_round = models.PositiveIntegerField(default=0)  # counted up, every session begun before ends
    lists = models.JSONField(default=dict, blank=True)  # name of a list -> its filters and hidden columns

    USERNAME_FIELD = "username"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["name"]
    objects = UserManager()

    class Meta:
        constraints = [models.UniqueConstraint(Lower("username"), name="user_username_any_case")]

    def __str__(self) -> str:
        return self.name or self.username

    def set_password(self, raw_password: str | None) -> None:
        super().set_password(None if raw_password is None else normalized(raw_password))

    def check_password(self, raw_password: str | None) -> bool:
        """Check the password as it is hashed; then as it was typed, for one that was set before they differed."""
        same = normalized(raw_password or "")
        return super().check_password(same) or (same != raw_password and super().check_password(raw_password))

    def _get_session_auth_hash(self, secret: str | bytes | None = None) -> str:
        """Tie sessions to the password, as Django does, and to the round."""
        if not self.session_round:  # as before there were rounds: an upgrade ends no session
            return str(super()._get_session_auth_hash(secret=secret))  # type: ignore[misc]  # without stubs
        tied = f"{self.password} {self.session_round}"
        return salted_hmac("core.models.User.session", tied, secret=secret, algorithm="sha256").hexdigest()

    def has_perm(self, perm: str, obj: models.Model | None = None) -> bool:
        return any(backend.has_perm(self, perm, obj) for backend in get_backends() if hasattr(backend, "has_perm"))

    def has_perms(self, perms: list[str] | tuple[str, ...], obj: models.Model | None = None) -> bool:
        return all(self.has_perm(perm, obj) for perm in perms)

    def has_module_perms(self, app_label: str) -> bool:
        return False


class OneTimeLink(models.Model):
    """A link by which somebody sets a new password; used or withdrawn, its row is gone, and the log has it.

    Whoever reads the row cannot make the link of it.
    """

    user = models.ForeignKey(User, models.CASCADE, related_name="one_time_links")
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, models.SET_NULL, null=True, related_name="+")  # None: asked for by e-mail
    expires_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"link of {self.made_at:%Y-%m-%d %H:%M}"


class LogInTry(models.Model):
    """A wrong try to log in, or one that is being looked at. All but the moment are keyed hashes (core/devices.py)."""

    name = models.CharField(max_length=32)
    address = models.CharField(max_length=32)
    network = models.CharField(max_length=32)
    device = models.CharField(max_length=32, blank=True)
    at = models.DateTimeField(db_index=True)

    class Meta:
        indexes = [
            models.Index(fields=["name", "at"], name="try_name"),
            models.Index(fields=["network", "at"], name="try_network"),
        ]

    def __str__(self) -> str:
        return f"try of {self.at:%Y-%m-%d %H:%M}"


class SignOn(models.Model):
    """An account elsewhere by which somebody logs in: known by its issuer and subject alone, never by an e-mail."""

    user = models.OneToOneField(User, models.CASCADE, related_name="sign_on")
    issuer = models.CharField(max_length=255)
    subject = models.CharField(max_length=255)
    linked_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["issuer", "subject"], name="sign_on_once")]

    def __str__(self) -> str:
        return f"{self.issuer} {self.subject}"


class AppendOnlyError(RuntimeError):
    """Such rows are only ever added."""


class NeverDeleted(models.Model):
    """Rows that are never deleted. ``called`` is what a refusal calls them: "events"."""

    called: ClassVar[str]

    class Meta:
        abstract = True

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise AppendOnlyError(f"{self.called} are never deleted")


Staying = TypeVar("Staying", bound=NeverDeleted)


class NeverDeletedQuerySet(models.QuerySet[Staying]):
    def delete(self) -> NoReturn:
        raise AppendOnlyError(f"{self.model.called} are never deleted")


class AppendOnlyQuerySet(NeverDeletedQuerySet[Staying]):
    """Rows that are only ever added."""

    def update(self, **kwargs: Any) -> NoReturn:
        raise AppendOnlyError(f"{self.model.called} are never changed")


class EventQuerySet(AppendOnlyQuerySet["Event"]):
    """Reads of the log; rows cannot be changed."""

    def newest_first(self) -> Self:
        return self.order_by("-number")


class Event(NeverDeleted):
    """One thing someone did. Holds only ids and non-personal values; names live in rows that can be erased."""

    called = "events"

    number = models.PositiveBigIntegerField(unique=True)
    at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    act = models.CharField(max_length=60)
    subject_type = models.CharField(max_length=60)
    subject_id = models.CharField(max_length=40)
    # The instrument and school it concerns, for histories; plain numbers, because core knows no domain models.
    thread = models.CharField(max_length=60, blank=True)
    tenant = models.BigIntegerField(null=True, blank=True)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    request_id = models.CharField(max_length=36, blank=True)
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64, unique=True)

    objects = EventQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        indexes = [
            models.Index(fields=["thread", "-number"], name="event_thread"),
            models.Index(fields=["subject_type", "subject_id"], name="event_subject"),
            models.Index(fields=["tenant", "-number"], name="event_tenant"),
            # What the log is filtered by; a page of it is read from the newest entry on.
            models.Index(fields=["act", "-number"], name="event_act"),
            models.Index(fields=["actor", "-number"], name="event_actor"),
            models.Index(fields=["at", "number"], name="event_moment"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.act}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise AppendOnlyError(f"{self.called} are never changed")
        super().save(*args, **kwargs)


def thread_key(thread: str) -> int | None:
    """Return the key of the row that a thread is about: 12 of "instrument:12"."""
    key = thread.rpartition(":")[2]
    return int(key) if key.isdigit() else None


class Revision(models.Model):
    """A text that someone typed, as one event found and left it. The event holds only salted hashes of both.

    The salt stands here alone. Where a name is taken out of a text, the salt goes with it, so that nobody can try
    names against the hash that stays in the event.
    """

    number = models.PositiveBigIntegerField()  # the event's
    subject_type = models.CharField(max_length=60)
    subject_id = models.CharField(max_length=40)
    thread = models.BigIntegerField(null=True, blank=True)  # the key of the row whose history it is in
    tenant = models.BigIntegerField(null=True, blank=True)
    column = models.CharField(max_length=60)
    before = models.TextField(blank=True)
    after = models.TextField(blank=True)
    salt = models.CharField(max_length=32, blank=True)  # empty: erased

    class Meta:
        constraints = [models.UniqueConstraint(fields=["number", "column"], name="revision_once")]
        indexes = [
            models.Index(fields=["thread"], name="revision_thread"),
            models.Index(fields=["tenant"], name="revision_tenant"),
        ]

    def __str__(self) -> str:
        return f"{self.column} in {self.number}"

    @property
    def is_erased(self) -> bool:
        return not self.salt


class PostedForm(models.Model):
    """A posted form and the row it led to, so that posting it again leads to the same row."""

    key = models.CharField(max_length=64, unique=True)
    service = models.CharField(max_length=80)
    about = models.CharField(max_length=300, blank=True)  # rows it was posted for, as "parameter=app.model:id"
    result_type = models.CharField(max_length=60, blank=True)
    result_id = models.CharField(max_length=40, blank=True)
    actor = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    posted_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.service} {self.key}"

    def result(self) -> models.Model | None:
        """Return the row the form made; None if it made none. RefusedError if that row is gone."""
        if not self.result_type:
            return None
        row: models.Model | None = apps.get_model(self.result_type)._default_manager.filter(pk=self.result_id).first()
        if row is None:
            raise RefusedError(_("What this form created has since been removed. Start again from a new form."))
        return row


class LongWorkQuerySet(models.QuerySet["LongWork"]):
    """Reads of long work; a page shows nobody's but one's own."""

    def visible_to(self, user: User) -> Self:
        return self.filter(person=user)

    def open(self) -> Self:
        return self.filter(finished_at=None)


class LongWork(models.Model):
    """What takes too long for one request, done by the worker for whoever began it (core/long_work.py).

    ``arguments`` holds keys and codes, never what somebody typed. The row and its file go a day after its end.
    """

    function = models.CharField(max_length=200)  # path of the function that does it
    title = models.CharField(max_length=200)  # in the language of whoever began it, as everything it says
    language = models.CharField(max_length=16)
    arguments = models.JSONField(default=dict)
    dedupe_key = models.CharField(max_length=64)  # hash of who, what and with what: the same thing runs once at a time
    person = models.ForeignKey(User, models.CASCADE, related_name="+")
    # What it takes to look at what came of it: the permission, at each of these schools.
    permission = models.CharField(max_length=80)
    schools = models.JSONField(default=list, blank=True)
    queued_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    reported_at = models.DateTimeField(null=True, blank=True)  # when it last said how far it is
    finished_at = models.DateTimeField(null=True, blank=True)
    seen_at = models.DateTimeField(null=True, blank=True)  # when its end was shown
    attempts = models.PositiveSmallIntegerField(default=0)
    phase = models.CharField(max_length=120, blank=True)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    is_failed = models.BooleanField(default=False)
    message = models.TextField(blank=True)  # what came of it, or why nothing did
    result_url = models.CharField(max_length=500, blank=True)  # address of what came of it
    file = models.CharField(max_length=200, blank=True)  # name in the storage; no backup takes it
    file_name = models.CharField(max_length=200, blank=True)

    objects = LongWorkQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["dedupe_key"], condition=models.Q(finished_at=None), name="long_work_once"),
        ]
        indexes = [models.Index(fields=["person", "-queued_at"], name="long_work_person")]

    def __str__(self) -> str:
        return f"{self.title} of {self.queued_at:%Y-%m-%d %H:%M}"


class EventHead(models.Model):
    """The end of the chain, in one row, so that two writers cannot follow the same event."""

    last_number = models.PositiveBigIntegerField(default=0)
    last_hash = models.CharField(max_length=64, default="0" * 64)

    def __str__(self) -> str:
        return f"after {self.last_number}"
