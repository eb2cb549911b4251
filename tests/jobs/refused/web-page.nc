<!doctype html>
<html><head><title>Sign in</title></head>
<body><p>Please sign in to fetch lid.nc</p></body></html>
