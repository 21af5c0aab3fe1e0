"""SQLite: schema, one writer, readers."""
