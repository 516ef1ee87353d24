"""What an edit of the rules would change: the same jobs decided under old and new rules.

    report = impact(old, new, store)

Nothing is inferred from what the rules say: every outcome named was come to under both.
"""

from engine.impact.report import Impact, impact

__all__ = ["Impact", "impact"]
