"""What a shop writes itself: its alloys, its quotes, and how its records are looked at."""
