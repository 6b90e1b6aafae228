"""What a command's exit code means."""

DONE = 0
PROBLEMS = 1  # the knowledge base, or a job file, has errors
INPUT = 2  # the command line, an answer or a file can't be taken
HELD = 3  # the work stands at an open hold
