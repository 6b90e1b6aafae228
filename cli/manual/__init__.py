"""The manual: one page a subject, in Markdown, installed with the program."""
