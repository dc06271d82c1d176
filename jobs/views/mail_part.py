"""What the job's page says of the mail to its customer."""

from typing import Any

from jobs.models import Job, Mail, MailKind


def mail_part(job: Job) -> dict[str, Any]:
    return {"mail": list(Mail.objects.filter(job=job)), "mail_kinds": MailKind.choices}
