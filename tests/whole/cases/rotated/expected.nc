(roundwright @VERSION@: circles corrected, case-router, poplar)
(two holes in coordinates that are turned by 30 degrees, one behind them that is not)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G68 X0 Y0 R30
G0 X40 Y0
G1 Z-3 F300
G1 X47.05 F1200
G3 X32.95 Y0 R7.05
G3 X47.05 Y0 R7.05
G1 X40
G0 Z5
G0 X70 Y0
G1 Z-3 F300
G1 X77.05 F1200
G3 X77.05 Y0 I-7.05 J0
G1 X70
G0 Z5
G69
G0 X0 Y40
G1 Z-3 F300
G1 X7.05 F1200
G3 X7.05 Y40 I-7.05 J0
G1 X0
G0 Z5
M30
