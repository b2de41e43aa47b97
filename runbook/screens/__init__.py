"""The screens: what a person beside the cart sees and presses."""
