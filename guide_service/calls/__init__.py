"""Phone calls: the same conversation as by text, heard and spoken. docs/voice.md says how the parts fit together."""
