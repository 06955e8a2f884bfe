"""The waiting list: who would like a time that is not free yet, and to whom a time goes that becomes free."""
