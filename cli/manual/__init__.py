"""The manual: one page per subject, in Markdown, installed with the program."""
