"""From a TOML file to settings classes: keys with their lines, types, secrets."""
