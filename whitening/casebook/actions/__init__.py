"""What people do with a case that reaches over several rooms."""

from whitening.casebook.actions.visits import NoSuchVisitType, VisitWish, book_visit, confirm_pencilled, wanted_for

__all__ = ["NoSuchVisitType", "VisitWish", "book_visit", "confirm_pencilled", "wanted_for"]
