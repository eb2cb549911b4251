"""The run sheet: one page that the operator takes to the machine."""
