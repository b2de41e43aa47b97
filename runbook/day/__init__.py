"""The running day: plan and journal together say what is true now."""
