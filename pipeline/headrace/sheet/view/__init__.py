"""The run sheet on a screen: drawings that can be moved, and a slider along the job."""
