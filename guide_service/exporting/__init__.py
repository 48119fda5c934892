"""The file of a household, or of an area, as a person outside may ask for it: a zip of tables with each column told."""
