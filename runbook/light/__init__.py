"""What the light will do: pure sums in stops, from a day's plan to what a meter would show."""
