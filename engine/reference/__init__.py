"""The published figures of kb/reference, and what every file of kb/ is read with: text, places, problems."""
