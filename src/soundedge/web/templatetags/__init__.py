"""What templates may say beyond Django's own words."""
