"""What a shop knows and works out about its jobs: estimates, the queue, what closed jobs teach."""
