(entrance notch)
g17 g21 g40 g49 g80 g90 g94
s18000 m3
g0 z5
x20 y10
g1 z-2 f300
x60 f1200
y18
x20
y10
g0 z5
m5
m30
