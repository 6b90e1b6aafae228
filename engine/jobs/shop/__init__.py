"""What a shop knows and reckons of its jobs: estimates, the queue, what closed jobs teach."""
