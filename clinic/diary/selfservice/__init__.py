"""What a patient does with a visit by private link: keeps, moves or cancels it, or picks its time."""
