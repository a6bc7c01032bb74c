"""JSON Schema (draft 2020-12) of the files of a plant, from the tables that the loader reads."""
