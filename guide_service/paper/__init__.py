"""What hangs in a wet house: a large-print card and a log sheet, from the same catalogue as the texts."""
