"""What comes before, between and behind the cuts: spindle, plate, bits, pauses, zeros."""
