"""A meter that was found to read wrong: whose readings it took, what was said by them, and how that is taken back."""
