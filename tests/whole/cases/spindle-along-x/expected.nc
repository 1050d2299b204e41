(roundwright @VERSION@: circles corrected, case-router, poplar)
(a spindle along X: a boss and an R form hole in the plane YZ, depth is X)
G21 G90 G19
T1 M6
M3 S12000
G0 X5
G0 Y50 Z20
G1 X-3 F300
G1 Y42.96 F1200
G2 Y42.96 Z20 J-12.96 K0
G1 Y50
G0 X5
G0 Y80 Z20
G1 X-3 F300
G1 Y87.05 F1200
G3 Y72.95 Z20 R7.05
G3 Y87.05 Z20 R7.05
G1 Y80
G0 X5
M30
