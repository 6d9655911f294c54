"""What comes in and what goes out, derived from the declarations of the calculations."""
