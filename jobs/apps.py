from django.apps import AppConfig
from django.db.models.signals import post_migrate, post_save


class JobsConfig(AppConfig):
    name = "jobs"
    verbose_name = "Studio"

    def ready(self) -> None:
        from jobs.models import Account
        from jobs.models.append_only import arm_after_migrate
        from jobs.models.permissions import follow_role, keep_in_step
        from jobs.models.workshops import make_first_after_migrate

        post_migrate.connect(arm_after_migrate, sender=self)
        post_migrate.connect(make_first_after_migrate, sender=self)
        post_migrate.connect(keep_in_step, sender=self)
        post_save.connect(follow_role, sender=Account)
