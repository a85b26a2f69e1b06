"""The answer and what it rests on, in words that every face shares."""
