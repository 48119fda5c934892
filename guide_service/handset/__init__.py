"""The practice phone of the demo: it plays the carrier and the telephone, and speaks to the very same webhooks."""
