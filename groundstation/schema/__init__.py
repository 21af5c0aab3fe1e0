"""What the station tells, each field written once: JSON, OpenAPI and JavaScript's types follow."""
