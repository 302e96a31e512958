"""Dialogs: the quit question, the help, and a line to type into."""
