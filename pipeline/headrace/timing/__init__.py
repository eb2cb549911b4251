"""How long a job takes: motion as the described machine can follow it, and all the waiting."""
