"""Permissions for what roles used to say, and a group for each role with the accounts that have it.

What the groups may stands in jobs/models/permissions.py, and is put there after each `migrate`.
"""

from typing import Any

from django.db import migrations


def make_groups(apps: Any, schema_editor: Any) -> None:
    using = schema_editor.connection.alias
    group, account = apps.get_model("auth", "Group"), apps.get_model("jobs", "Account")
    for role in ("lead", "office", "bench"):
        found = group.objects.using(using).get_or_create(name=role)[0]
        found.user_set.add(*account.objects.using(using).filter(role=role))


class Migration(migrations.Migration):
    dependencies = [("jobs", "0290_workshops"), ("auth", "0012_alter_user_first_name_max_length")]

    operations = [
        migrations.AlterModelOptions(
            name='account',
            options={'permissions': [('lead_floor', 'lead the floor: the order of work, what changes during a day, what came late'), ('keep_hours', 'keep everybody’s hours: correct them and close weeks'), ('run_office', 'run the office: jobs, customers, dates, quotes, mail and papers'), ('work_at_bench', 'work at the benches'), ('set_rates', 'set the rates that estimates reckon with'), ('see_costs', 'see what labor costs, and what a job has earned'), ('set_up', 'set up the studio: stations, people and what they cost, prices, words'), ('keep_accounts', 'keep accounts: who may sign in, from where, and do what')]},
        ),
        migrations.RunPython(make_groups, migrations.RunPython.noop),
    ]
