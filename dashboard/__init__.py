"""The pages: read the log, ask the core one question, draw the answer."""
