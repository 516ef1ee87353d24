"""One small module a command; each imports what it needs only when it runs."""
