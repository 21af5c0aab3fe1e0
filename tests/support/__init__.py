"""Real counterparts for tests: brokers, receivers, servers."""
