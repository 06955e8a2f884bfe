"""Several visits of one patient, found, held and booked together: all of them or none."""
