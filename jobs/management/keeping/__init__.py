"""An installation kept safe: backups and what is made of them, and its rows moved to another database."""
