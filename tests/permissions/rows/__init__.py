"""One file per part; each holds `ROWS`, made with the short functions of tests/permissions/row.py."""
