"""Answers as people and programs read them: tables of text and JSON documents, in the owner's units."""
