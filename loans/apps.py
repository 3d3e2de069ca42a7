from django.apps import AppConfig


class LoansConfig(AppConfig):
    name = "loans"
    verbose_name = "Loans"

    def ready(self) -> None:
        from core.access import register
        from loans.access import PERMISSIONS

        register(PERMISSIONS)
