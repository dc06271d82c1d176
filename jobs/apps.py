from django.apps import AppConfig
from django.db.models.signals import post_migrate


class JobsConfig(AppConfig):
    name = "jobs"
    verbose_name = "Studio"

    def ready(self) -> None:
        from jobs.models.append_only import arm_after_migrate
        from jobs.models.workshops import make_first_after_migrate

        post_migrate.connect(arm_after_migrate, sender=self)
        post_migrate.connect(make_first_after_migrate, sender=self)
