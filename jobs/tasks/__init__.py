"""What takes long and is done beside the requests: Django tasks, whose queue is the database.

Views ask for it, and workers do it (`manage.py worker`, on one machine or many); `queue` says what becomes of a task
whose worker ends. A task may be begun more than once, so each is written to be: what it keeps it keeps once.
"""
