"""What is planned: a day's kit, hours and setups as plain, checked values."""
