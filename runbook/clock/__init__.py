"""The day's time: how long steps take, the order of the setups, and when the day will end."""
