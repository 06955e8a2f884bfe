"""Which static files are collected: those that a page can ask for.

The rest is only packed and hashed for nothing, which takes longer than all the others together: the
fonts of sheets, which the renderer reads where they were made, and the script version we do not use.
"""

from django.contrib.staticfiles.apps import StaticFilesConfig


class WhatPagesAskFor(StaticFilesConfig):
    # With the three that the framework leaves out by itself.
    ignore_patterns = ["CVS", ".*", "*~", "*.ttf", "built.json", "htmx-4*.js", "htmax-4*.js", "ext"]
