(roundwright @VERSION@: circles corrected, case-router, poplar)
(increments from the plunge on, absolute again behind the circle; then a line each)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X10 Y10
G1 Z-3 F300
G91 G1 X7.05 F1200
G3 X-14.1 I-7.05
G3 X14.1 I7.05
G90 G1 X10
G0 Z5
G0 X50 Y10
G1 Z-3 F300
G91 G1 X7.05 F1200
G90 G3 X42.95 I-7.05
G91 G3 X14.1 I7.05
G90 G1 X50
G91 G0 Z8
X40 Y0
Z-8
G1 X7.05 F1200
G3 I-7.05
G1 X-7.05
G0 Z8
G90
M30
