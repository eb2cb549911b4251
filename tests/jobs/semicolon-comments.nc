; entrance notch
G21 G90 ; mm
S18000 M3;spindle
G0 Z5 ; (up)
X20 Y10
;X999 Y999
G1 Z-2 F300
X60 ; to the right; M5 here is text
G0 Z5
M30
