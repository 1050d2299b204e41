(roundwright @VERSION@: circles corrected, case-router, poplar)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
(begins at 30 degrees, radius 8, two halves in R form, two decimals)
G0 X50.00 Y40.00
G1 Z-3.00 F300
G1 X56.9733 Y44.02499 F1200
G3 X43.0267 Y35.97501 R8.05155 F1200
G3 X56.9733 Y44.02499 R8.05155
G1 X50.00 Y40.00
G0 Z5.00
M30
