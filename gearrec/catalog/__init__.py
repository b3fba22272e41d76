"""YAML catalogs: from files to checked records."""
