"""The agents' pages: who needs a person, why, what is known, and what can be done about it."""
