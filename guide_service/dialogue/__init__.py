"""What is said next: pure functions over flows, events and facts. No I/O, no clock, no database."""
