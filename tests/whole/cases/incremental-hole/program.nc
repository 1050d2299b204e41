g21 g90 g17
t1 m6
m3 s12000
g0 z5
x40 y40
g91
g0 z-4
g1 z-4 f300
x2.5 f1200
g3 i-2.5 j0
g1 x-2.5
z-2 f300
x2.5 f1200
g3 i-2.5 j0
g1 x-2.5
g90
g0 z5
x0 y0
m30
