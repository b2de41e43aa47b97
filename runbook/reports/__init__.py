"""What is printed and carried about: pages a crew can read without the program."""
