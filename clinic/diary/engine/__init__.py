"""Finding a time: plain arithmetic over free stretches. No database, no clock, no Django."""
