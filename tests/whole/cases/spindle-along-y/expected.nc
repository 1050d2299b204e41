(roundwright @VERSION@: circles corrected, case-router, poplar)
(a spindle along Y: holes lie in the plane ZX, depth is Y)
G21 G90 G18
T1 M6
M3 S12000
G0 Y5
G0 Z20 X30
G1 Y-3 F300
G1 Z27.05 F1200
G3 Z27.05 X30 K-7.05 I0
G1 Z20
G0 Y5
G0 Z60 X30
G1 Y0 F300
G1 Z67.05 F1200
G3 Z52.95 Y-1.5 K-7.05
G3 Z67.05 Y-3 K7.05
G3 Z52.95 K-7.05
G3 Z67.05 K7.05
G1 Z60
G0 Y5
M30
