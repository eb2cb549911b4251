"""What came of a run, as text for people: outcomes, differences, and the reasons for them."""
