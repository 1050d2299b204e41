(roundwright @VERSION@: circles corrected, case-router, poplar)
(one long spiral of half turns, then the wall)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X40 Y40
G1 Z-3 F300
G3 X39.0 Y40 I-0.5
G3 X42.0 Y40 I1.5
G3 X37.0 Y40 I-2.5
G3 X44.0 Y40 I3.5
G3 X35.0 Y40 I-4.5
G3 X46.0 Y40 I5.5
G3 X33.0 Y40 I-6.5
G3 X48.0 Y40 I7.5
G3 X30.95 Y40 I-8.525
G3 X30.95 Y40 I9.05
G1 X40
G0 Z5
M30
