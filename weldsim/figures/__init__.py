"""Pictures: an Answer or a Run becomes a matplotlib Figure; the only room that knows matplotlib."""
