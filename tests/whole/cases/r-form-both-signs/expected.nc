(roundwright @VERSION@: circles corrected, case-router, poplar)
G21 G90 G17
T1 M6
M3 S12000
G0 Z4
(two halves with R; then three quarters with R minus, and the rest)
G0 X12.55 Y10
G1 Z-2 F300
G3 X7.45 Y10 R2.55 F900
G3 X12.55 Y10 R2.55
G0 Z4
G0 X42.55 Y10
G1 Z-2 F300
G3 X40 Y7.45 R-2.55 F900
G3 X42.55 Y10 R2.55
G0 Z4
M30
