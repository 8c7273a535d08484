"""Ices and metals as traceable data: every value in `data/*.toml` with its source, how it is known and its range."""
