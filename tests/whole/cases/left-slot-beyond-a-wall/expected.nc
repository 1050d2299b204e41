(a bore of 90 and the end of a slot leave 0.03 between them: the corrected bore would break into the slot)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X0 Y0
G1 Z-3 F300
G1 X42 F1200
G3 X42 Y0 I-42 J0
G1 X0
G0 Z5
G0 X48.03 Y0
G1 Z-3 F300
G1 X70 F1200
G0 Z5
M30
