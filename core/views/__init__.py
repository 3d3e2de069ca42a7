"""The base of staff pages, the doors, health, and error pages."""

from core.views.base import (
    FormView,
    StaffRequest,
    StaffView,
    acts_allowed,
    page_above,
    pdf_response,
    public,
    reads_labels,
    row_or_404,
    sheet_response,
)  # fmt: skip
from core.views.doors import LogInView, LogOutView
from core.views.entering import keep_session, keep_to_show, show_once
from core.views.errors import bad_request, csrf_failure, not_found, permission_denied, server_error
from core.views.forgotten import ForgottenView, LinkView
from core.views.health import health
from core.views.icon import favicon
from core.views.later import do_later, is_for_worker, is_replayed, made_once, start_work, work_of
from core.views.own import ConfirmView, MeView, OwnView, PasswordView, confirm_approver
from core.views.phone import manifest, no_signal, service_worker
from core.views.remembering import RememberedView
from core.views.searching import SearchedView, list_filter
from core.views.second_step import AddCodesView, AddPasskeyView, RecoveryCodesView, RemoveStepView, SecondStepView
from core.views.sign_on import LinkSignOnView, SignOnView, UnlinkSignOnView
from core.views.work import WorkAgainView, WorkFileView, WorkLineView, WorkView
