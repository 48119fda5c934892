"""Guides flood-affected households by text message until their walls are dry enough to close."""
