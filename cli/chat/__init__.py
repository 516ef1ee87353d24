"""The chat: asks what can still change an outcome, and keeps every answer as it is given."""
