"""The engine: exact stepping through the modes of a switched linear system; it knows nothing of welding."""
