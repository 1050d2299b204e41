(roundwright @VERSION@: circles corrected, case-mill, maple)
(spigot 1.5, two decimals only)
G20 G90 G17
M3 S9000
G0 Z0.10
G0 X4.50 Y2.00
G1 Z-0.20 F20.0
G1 X3.8785 F40.0
G2 X3.8785 Y2.00 I-0.8785 J0.00
G1 X4.50
G0 Z0.10
M30
