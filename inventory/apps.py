from django.apps import AppConfig


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = "Instruments"

    def ready(self) -> None:
        from core.access import register, register_roles
        from inventory.access import PERMISSIONS, roles_of

        register(PERMISSIONS)
        register_roles(roles_of)
