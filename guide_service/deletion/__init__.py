"""A household's request to be deleted: decided under the county's rule, taken back for a day, carried out."""
