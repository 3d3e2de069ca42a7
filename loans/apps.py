from django.apps import AppConfig


class LoansConfig(AppConfig):
    name = "loans"
    verbose_name = "Loans"

    def ready(self) -> None:
        from core.access import register
        from core.free_text import register as register_free_text
        from core.mail import register_letters
        from core.queue import register_sweep
        from core.traces import register as register_traces
        from inventory.selectors.holders import holders
        from inventory.services.following import return_inspected
        from loans.access import PERMISSIONS
        from loans.free_text import FREE_TEXT
        from loans.selectors.holders import Borrowers
        from loans.selectors.leavers import register_keeps
        from loans.selectors.losses import keeps_open_losses
        from loans.services.returning import join_return_inspection
        from loans.traces import TRACES

        register(PERMISSIONS)
        register_free_text(FREE_TEXT)
        register_traces(TRACES)
        holders.set(Borrowers)
        return_inspected.set(join_return_inspection)
        register_sweep("loans.tasks.queue_due_papers")
        register_sweep("loans.tasks.queue_notices")
        register_letters("loans.tasks.mail_notice")
        register_letters("loans.tasks.mail_signing_link")
        register_keeps(keeps_open_losses)
