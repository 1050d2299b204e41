(barely wider than the cutter, on a machine whose holes come out large)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X90.040 Y0.000
G1 Z-3 F300
G3 X90.040 Y0.000 I-0.040 J0.000 F600
G0 Z5
M30
