from django.apps import AppConfig


class LoansConfig(AppConfig):
    name = "loans"
    verbose_name = "Loans"

    def ready(self) -> None:
        from core.access import register
        from core.free_text import register as register_free_text
        from loans.access import PERMISSIONS
        from loans.free_text import FREE_TEXT

        register(PERMISSIONS)
        register_free_text(FREE_TEXT)
