"""Django's admin, for set-up that has no page of our own."""
