"""What must be shown, as scripts: each prints one line of JSON and fails where a promise breaks."""
