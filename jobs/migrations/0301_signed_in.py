"""Sessions that say whose they are, and tablets. Whoever is signed in stays so: the rows are taken over."""

import uuid
from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.db import migrations, models
from django.utils import timezone


def take_over(apps: Any, schema_editor: Any) -> None:
    using, now = schema_editor.connection.alias, timezone.now()
    before, after = apps.get_model("sessions", "Session"), apps.get_model("jobs", "SignedIn")
    accounts = set(apps.get_model("jobs", "Account").objects.using(using).values_list("pk", flat=True))
    for row in before.objects.using(using).filter(expire_date__gt=now).iterator():
        account = int(SessionStore().decode(row.session_data).get(SESSION_KEY, 0))
        if account in accounts:
            after.objects.using(using).create(
                session_key=row.session_key,
                session_data=row.session_data,
                expire_date=row.expire_date,
                account_id=account,
                since=now,
                seen=now,
            )
    before.objects.using(using).all().delete()


class Migration(migrations.Migration):
    dependencies = [("jobs", "0300_permissions"), ("sessions", "0001_initial")]

    operations = [
        migrations.CreateModel(
            name='Tablet',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60, unique=True)),
                ('code_digest', models.CharField(blank=True, max_length=64)),
                ('code_until', models.DateTimeField(blank=True, null=True)),
                ('secret_digest', models.CharField(blank=True, max_length=64, null=True, unique=True)),
                ('made_at', models.DateTimeField()),
                ('paired_at', models.DateTimeField(blank=True, null=True)),
                ('seen', models.DateTimeField(blank=True, null=True, verbose_name='last seen')),
                ('revoked_at', models.DateTimeField(blank=True, null=True)),
                ('account', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='tablets', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['name'],
            },
        ),
        migrations.CreateModel(
            name='SignedIn',
            fields=[
                ('session_key', models.CharField(max_length=40, primary_key=True, serialize=False, verbose_name='session key')),
                ('session_data', models.TextField(verbose_name='session data')),
                ('expire_date', models.DateTimeField(db_index=True, verbose_name='expire date')),
                ('handle', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('since', models.DateTimeField()),
                ('seen', models.DateTimeField(verbose_name='last seen')),
                ('address', models.GenericIPAddressField(blank=True, null=True)),
                ('agent', models.CharField(blank=True, max_length=300)),
                ('account', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='signed_in', to=settings.AUTH_USER_MODEL)),
                ('tablet', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='signed_in', to='jobs.tablet')),
            ],
            options={
                'verbose_name': 'session',
                'ordering': ['-seen'],
            },
        ),
        migrations.AddConstraint(
            model_name='tablet',
            constraint=models.CheckConstraint(condition=models.Q(('revoked_at', None), ('secret_digest', None), _connector='OR'), name='tablet_revoked_has_no_secret'),
        ),
        migrations.RunPython(take_over, migrations.RunPython.noop),
    ]
