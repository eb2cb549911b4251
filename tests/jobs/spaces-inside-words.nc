G 1 7 G 21 G 9 0
S 18 000 M 3
g0 z + 5
x 2 0 y +1 0. 0
G 1 Z - 2 F 3 00
X 6 0
G0 Z5
M 3 0
