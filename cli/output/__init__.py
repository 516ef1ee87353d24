"""Turns what the engine decided into text and JSON."""
