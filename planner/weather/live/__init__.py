"""Weather fetched from a service: politely, within a time, or from the cache."""
