"""Hushweir."""
