(from where the lead comes, no one can tell, so it is no evidence; a number for it would say boss)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X#100 Y10
G1 Z-3 F300
G1 X37 Y10 F1200
G3 I-17 J0
G0 Z5
M30
