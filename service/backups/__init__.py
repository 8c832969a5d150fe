"""Never losing the book: backups, restoring them, moving a bank from one engine to another."""
