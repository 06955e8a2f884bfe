"""Whole cases lived in a real browser against real processes."""
