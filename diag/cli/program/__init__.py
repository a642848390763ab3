"""Commands about the program itself: its pages, its manual page, completion, and what is in force."""
