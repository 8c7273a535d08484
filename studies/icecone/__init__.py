"""Explains and predicts how a threaded steel tube screwed into ice fails when it is pulled."""
