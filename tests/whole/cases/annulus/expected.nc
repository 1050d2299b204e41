(roundwright @VERSION@: circles corrected, case-router, poplar)
G21 G90 G17
T1 M6
M3 S12000
(ring-shaped groove 14 wide: an island inside, a wall outside)
G0 Z5
G0 X114.96 Y100
G1 Z-3 F300
G2 X114.96 Y100 I-14.96 J0 F1200
G1 X118.949
G2 X118.949 Y100 I-18.949 J0
G1 X123.05
G3 X123.05 Y100 I-23.05 J0
G0 Z5
M30
