"""Notices: one text to many households. Who gets it, in which words, who may start it, how it is sent and stopped."""
