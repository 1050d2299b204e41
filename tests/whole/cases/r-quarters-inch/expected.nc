%
; roundwright @VERSION@: circles corrected, case-mill, maple
G20 G90 G17 ; no tool word: the table's default tool
M3 S9000
G0 Z.1
G0 X1.1271 Y1
G1 Z-.1 F20
G3 X1. Y1.1271 R.1271 F40
G3 X.8729 Y1. R.1271
G3 X1. Y.8729 R.1271
G3 X1.1271 Y1. R.1271
G0 Z.1
M30
%
