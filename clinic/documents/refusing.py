"""The one word by which the renderer says that a page cannot become a document."""


class Unprintable(Exception):
    """`reason` is one word for the log, without any of the page's content."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason
