"""Colour science of the shade guide. Plain Python: imports neither Django nor any other part of ours."""
