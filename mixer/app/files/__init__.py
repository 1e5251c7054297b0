"""What people write in files: profiles, layups, and what was confirmed of them."""
