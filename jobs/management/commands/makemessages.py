"""Django's makemessages, which also finds the sentences of refusals: they are translated where they are read."""

from django.core.management.commands import makemessages


class Command(makemessages.Command):
    help = "Collect the words to translate in jobs/locale; compilemessages puts them to use."
    xgettext_options = [
        *makemessages.Command.xgettext_options,
        "--keyword=Refused:1",
        "--keyword=HoursError:1",
    ]
