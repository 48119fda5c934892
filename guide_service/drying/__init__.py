"""What the numbers mean: pure functions from readings to bands, dates and findings. No I/O, no clock."""
