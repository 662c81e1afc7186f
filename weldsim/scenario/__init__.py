"""Scenario: the file and nothing but the file."""
