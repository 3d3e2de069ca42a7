from django.apps import AppConfig
from django.utils import translation

from core.translation import translate_by


class CoreConfig(AppConfig):
    name = "core"
    verbose_name = "Core"

    def ready(self) -> None:
        translate_by(translation)
