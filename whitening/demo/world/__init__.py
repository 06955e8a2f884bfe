"""The invented practice: Fernbrook Dental Rooms, built by the same actions that people use."""
