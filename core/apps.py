from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in, user_login_failed
from django.core.checks import Tags, register
from django.utils import translation

from core.translation import translate_by


class CoreConfig(AppConfig):
    name = "core"
    verbose_name = "Core"

    def ready(self) -> None:
        from core.checks import check_version
        from core.long_work import note_unseen_work
        from core.metrics import count_failed_log_in

        translate_by(translation)
        register(check_version, Tags.database)
        user_login_failed.connect(count_failed_log_in)
        user_logged_in.connect(note_unseen_work)
