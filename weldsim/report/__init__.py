"""Answers in words: plain aligned tables, verdicts and cautions for the terminal."""
