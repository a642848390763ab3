"""Where logs are kept. SQL is spoken here alone."""
